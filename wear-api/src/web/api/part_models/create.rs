use actix_web::http::header;
use actix_web::{HttpResponse, post, web};

use super::facts::{NewPartModel, PartModelDocument};
use crate::service::{Services, part_models};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Enter a part model
#[utoipa::path(
    operation_id = "create_part_model",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewPartModel, examples(
        ("chain" = (summary = "A chain", value = json!({"name": "Chain 8-speed", "place": "chain", "sprockets": 8, "price_minor": 1490, "currency": "EUR", "limit_percent": 0.75}))),
        ("cassette" = (summary = "A cassette", value = json!({"name": "Cassette 11-30", "place": "cassette", "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "one_piece": false, "price_minor": 2790, "currency": "EUR"})))
    )),
    responses((status = 201, description = "The part model", body = PartModelDocument,
        headers(("Location" = String, description = "Address of the part model"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/part-models")]
pub(super) async fn create_part_model(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewPartModel>,
) -> Result<HttpResponse, Problem> {
    let model = part_models::create(&services, &actor, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/part-models/{}", model.id)))
        .insert_header(etag(model.revision))
        .json(PartModelDocument::from(model)))
}

//! Help: how the yard begins, how one measures, and what the words mean, with pictures. Open to everybody.

use actix_web::{HttpRequest, get};
use askama::Template;

use super::frame::{Frame, Viewer};
use super::{Answer, html};
use crate::domain::Advice;
use crate::web::auth::App;

#[derive(Template)]
#[template(path = "help.html")]
struct Help {
    f: Frame,
    shapes: Vec<(&'static str, String, String)>,
}

#[get("/help")]
pub(super) async fn page(request: HttpRequest) -> Answer {
    let viewer = Viewer::<App>::of(&request).await;
    let f = viewer.map_or_else(|_| Frame::outside(&request), |viewer| viewer.frame);
    let shapes = [Advice::SwapNow, Advice::Hold, Advice::SwapBy, Advice::MeasureBy, Advice::RideOn]
        .into_iter()
        .map(|advice| (advice.as_str(), f.advice(advice), f.word("help-advice", advice.as_str())))
        .collect();
    html(&Help { shapes, f })
}

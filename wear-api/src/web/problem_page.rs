//! The page that explains each kind of problem.

use actix_web::http::header;
use actix_web::{HttpResponse, get};
use askama::Template;

use super::problem::Kind;

#[derive(Template)]
#[template(
    ext = "html",
    source = r#"<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Problems</title>
<main>
<h1>Problems</h1>
<p>Every error answer is a problem document (RFC 9457, <code>application/problem+json</code>). Its <code>type</code> is one of these.</p>
{% for kind in kinds %}<section id="{{ kind.slug() }}">
<h2>{{ kind.status().as_u16() }} {{ kind.title() }}</h2>
<p><code>{{ kind.uri() }}</code></p>
<p>{{ kind.about() }}</p>
</section>
{% endfor %}</main>
</html>
"#
)]
struct ProblemPage {
    kinds: &'static [Kind],
}

/// Explains each kind of problem.
#[get("/docs/problems")]
pub async fn problem_page() -> HttpResponse {
    let text = ProblemPage { kinds: Kind::ALL }.render().unwrap_or_default();
    HttpResponse::Ok().insert_header((header::CONTENT_TYPE, "text/html; charset=utf-8")).body(text)
}

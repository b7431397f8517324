//! Pages of lists: `?limit=1..100&after=CURSOR`, and the `Link` to the next page.

use actix_web::HttpRequest;
use actix_web::HttpResponse;
use actix_web::http::header;
use serde::Serialize;

/// Items of a list and the cursor behind the last of them.
#[derive(Debug, Serialize)]
pub struct Page<T> {
    /// Items of this page, in order.
    pub items: Vec<T>,
    /// Where the next page starts; `None` on the last page.
    #[serde(skip)]
    pub next: Option<String>,
}

impl<T: Serialize> Page<T> {
    /// The page as an answer to `request`, whose other parameters the link keeps.
    #[must_use]
    pub fn answer(self, request: &HttpRequest) -> HttpResponse {
        let mut response = HttpResponse::Ok();
        if let Some(next) = &self.next {
            response.insert_header((header::LINK, link(request.path(), request.query_string(), next)));
        }
        response.json(self)
    }
}

fn link(path: &str, query: &str, next: &str) -> String {
    let kept = query.split('&').filter(|pair| !pair.is_empty() && !pair.starts_with("after="));
    let after = format!("after={next}");
    let query = kept.chain([after.as_str()]).collect::<Vec<_>>().join("&");
    format!("<{path}?{query}>; rel=\"next\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_link_keeps_other_parameters_and_replaces_the_cursor() {
        assert_eq!(
            link("/v1/bikes", "group=town-8s&after=old&limit=5", "new"),
            "</v1/bikes?group=town-8s&limit=5&after=new>; rel=\"next\""
        );
        assert_eq!(link("/v1/bikes", "", "new"), "</v1/bikes?after=new>; rel=\"next\"");
    }
}

//! Pages of lists: `?limit=1..100&after=CURSOR`, and the `Link` to the next page.

use std::future::{Ready, ready};

use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev};
use serde::Serialize;

use super::problem::Problem;
use super::query::{PageQuery, Query};
use crate::domain::{Page, PageRequest};

#[derive(Serialize)]
struct ListDocument<T> {
    items: Vec<T>,
}

/// A request for a page of a list that is asked for nothing else.
#[derive(Debug)]
pub struct Listing {
    /// Which page.
    pub page: PageRequest,
    request: HttpRequest,
}

impl Listing {
    /// The page as the answer.
    pub fn answer<T, D: Serialize>(&self, page: Page<T>, document: impl FnMut(T) -> D) -> HttpResponse {
        answer(&self.request, page, document)
    }
}

impl FromRequest for Listing {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let query = Query::<PageQuery>::from_request(request, payload).into_inner();
        let page = query.and_then(|query| query.0.parse());
        ready(page.map(|page| Self { page, request: request.clone() }))
    }
}

/// The page as an answer to `request`, whose other parameters the link to the next page keeps.
pub fn answer<T, D: Serialize>(
    request: &HttpRequest,
    page: Page<T>,
    document: impl FnMut(T) -> D,
) -> HttpResponse {
    let mut response = HttpResponse::Ok();
    if let Some(next) = &page.next {
        let link = link(request.path(), request.query_string(), &next.to_string());
        response.insert_header((header::LINK, link));
    }
    response.json(ListDocument { items: page.items.into_iter().map(document).collect() })
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

//! Pages over plain HTTP: someone who is signed in, looks and sends forms.

use reqwest::header::HeaderMap;
use reqwest::{Client, StatusCode, Url, redirect};
use wear_api::domain::Role;
use wear_tests::TestServer;

const FORM: &str = "application/x-www-form-urlencoded";

/// As browsers ask.
const ACCEPTED: &str = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";

fn encoded(fields: &[(&str, &str)]) -> String {
    let url = Url::parse_with_params("http://form.example/", fields).expect("an address");
    url.query().unwrap_or_default().to_owned()
}

/// Someone who is signed in to the pages.
pub struct Visitor<'a> {
    server: &'a TestServer,
    client: Client,
    cookies: String,
    csrf: String,
}

impl<'a> Visitor<'a> {
    /// Signs in with a token of that role; pages are in that language.
    pub async fn of(server: &'a TestServer, role: Role, language: &str) -> Self {
        let client = Client::builder().redirect(redirect::Policy::none()).build().expect("a client");
        let token = encoded(&[("token", server.token_of(role))]);
        let signed_in = client
            .post(format!("{}/sign-in", server.url()))
            .header("content-type", FORM)
            .body(token)
            .send()
            .await;
        let signed_in = signed_in.expect("an answer");
        let session =
            signed_in.headers()["set-cookie"].to_str().expect("ASCII").split(';').next().expect("it");
        let cookies = format!("{session}; wear_language={language}");
        let mut visitor = Self { server, client, cookies, csrf: String::new() };
        let page = visitor.get("/fleet").await.1;
        let csrf = page.split("name=\"csrf\" content=\"").nth(1).and_then(|rest| rest.split('"').next());
        visitor.csrf = csrf.expect("a proof").to_owned();
        visitor
    }

    /// A page and its status.
    pub async fn get(&self, path: &str) -> (StatusCode, String) {
        let request = self.client.get(format!("{}{path}", self.server.url())).header("cookie", &self.cookies);
        let answer = request.header("accept", ACCEPTED).send().await.expect("an answer");
        (answer.status(), answer.text().await.expect("a page"))
    }

    /// What a form is answered with; without its hard spaces.
    pub async fn send(&self, path: &str, fields: &[(&str, &str)]) -> (StatusCode, String) {
        let answer = self.answer(path, fields).await;
        (answer.status(), answer.text().await.expect("a page").replace('\u{a0}', " "))
    }

    /// Where a form leads on to.
    pub async fn send_on(&self, path: &str, fields: &[(&str, &str)]) -> (StatusCode, String) {
        let answer = self.answer(path, fields).await;
        let to = answer.headers().get("location").and_then(|to| to.to_str().ok()).unwrap_or_default();
        (answer.status(), to.to_owned())
    }

    /// Sends a form that is taken, and keeps what the answer has the browser remember.
    pub async fn tap(&mut self, path: &str, fields: &[(&str, String)]) {
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let answer = self.answer(path, &fields).await;
        assert_eq!(answer.status(), 303, "{path}");
        for cookie in answer.headers().get_all("set-cookie") {
            let pair = cookie.to_str().expect("ASCII").split(';').next().expect("a cookie");
            let name = pair.split_once('=').expect("a pair").0;
            let others = self.cookies.split("; ").filter(|it| !it.starts_with(&format!("{name}=")));
            self.cookies = others.chain([pair]).collect::<Vec<_>>().join("; ");
        }
    }

    /// Where an address leads on to.
    pub async fn leads_to(&self, path: &str) -> String {
        let headers = self.headers(path).await;
        headers.get("location").and_then(|to| to.to_str().ok()).unwrap_or_default().to_owned()
    }

    /// The headers that come with a page.
    pub async fn headers(&self, path: &str) -> HeaderMap {
        let request = self.client.get(format!("{}{path}", self.server.url())).header("cookie", &self.cookies);
        request.header("accept", ACCEPTED).send().await.expect("an answer").headers().clone()
    }

    /// How a form is answered that comes without the pages' proof.
    pub async fn forged(&self, path: &str, fields: &[(&str, &str)]) -> StatusCode {
        let request = self.client.post(format!("{}{path}", self.server.url())).body(encoded(fields));
        let request = request.header("content-type", FORM).header("cookie", &self.cookies);
        request.send().await.expect("an answer").status()
    }

    async fn answer(&self, path: &str, fields: &[(&str, &str)]) -> reqwest::Response {
        let mut all = vec![("csrf", self.csrf.as_str())];
        all.extend_from_slice(fields);
        let request = self
            .client
            .post(format!("{}{path}", self.server.url()))
            .header("content-type", FORM)
            .body(encoded(&all));
        let request = request.header("cookie", &self.cookies).header("accept", ACCEPTED);
        request.send().await.expect("an answer")
    }
}

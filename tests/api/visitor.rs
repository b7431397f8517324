//! Pages over plain HTTP: someone who is signed in, looks and sends forms.

use reqwest::{Client, StatusCode, Url, redirect};
use wear_api::domain::Role;
use wear_tests::TestServer;

const FORM: &str = "application/x-www-form-urlencoded";

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
        let answer = request.send().await.expect("an answer");
        (answer.status(), answer.text().await.expect("a page"))
    }

    /// What a form is answered with; without its hard spaces.
    pub async fn send(&self, path: &str, fields: &[(&str, &str)]) -> (StatusCode, String) {
        let mut all = vec![("csrf", self.csrf.as_str())];
        all.extend_from_slice(fields);
        let request = self
            .client
            .post(format!("{}{path}", self.server.url()))
            .header("content-type", FORM)
            .body(encoded(&all));
        let answer = request.header("cookie", &self.cookies).send().await.expect("an answer");
        (answer.status(), answer.text().await.expect("a page").replace('\u{a0}', " "))
    }
}

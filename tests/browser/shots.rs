//! Pictures of the pages, to be looked at: run by hand with WEAR_SHOTS naming a folder and WEAR_SITE a demonstration,
//! or another site with WEAR_TOKEN to sign in with. WEAR_HEIGHT cuts them.

use serde_json::{Value, json};

use crate::driver::{Browser, DESK};

async fn shot(browser: &Browser, folder: &str, name: &str) {
    let size = browser
        .run("return [document.documentElement.clientWidth, document.documentElement.scrollHeight]")
        .await;
    let most = std::env::var("WEAR_HEIGHT").ok().and_then(|most| most.parse().ok()).unwrap_or(f64::MAX);
    let height = size[1].as_f64().unwrap_or_default().min(most);
    let clip = json!({"x": 0, "y": 0, "width": size[0], "height": height, "scale": 1});
    let params = json!({"format": "png", "captureBeyondViewport": true, "clip": clip});
    let taken = browser.own("Page.captureScreenshot", params).await;
    let Value::String(data) = &taken["data"] else { panic!("no picture") };
    std::fs::write(format!("{folder}/{name}.png.base64"), data).expect("written");
}

#[tokio::test]
#[ignore = "run by hand"]
async fn pictures_of_every_page() {
    let (Ok(folder), Ok(site)) = (std::env::var("WEAR_SHOTS"), std::env::var("WEAR_SITE")) else {
        panic!("WEAR_SHOTS and WEAR_SITE say where");
    };
    let paths = std::env::var("WEAR_PATHS").unwrap_or_else(|_| "fleet=/fleet".to_owned());
    let browser = Browser::start(&site, DESK).await;
    if let Ok(token) = std::env::var("WEAR_TOKEN") {
        browser.sign_in(&token).await;
    }
    for (look, media, scheme, size) in [
        ("desktop", "", "light", None),
        ("dark", "", "dark", None),
        ("phone-dark", "", "dark", Some((390, 844))),
        ("print", "print", "light", Some((760, 1000))),
        ("phone", "", "light", Some((390, 844))),
    ] {
        browser.media(media, scheme).await;
        match size {
            Some(size) => browser.device(size).await,
            None => {
                browser.own("Emulation.clearDeviceMetricsOverride", json!({})).await;
            }
        }
        for (name, path) in paths.split_whitespace().filter_map(|pair| pair.split_once('=')) {
            browser.open(path).await;
            shot(&browser, &folder, &format!("{name}-{look}")).await;
        }
    }
}

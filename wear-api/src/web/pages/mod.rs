//! Pages for people, drawn on the server and usable without scripts.

mod acted_on;
mod audit;
mod authorize;
mod bench;
mod bike;
mod bike_kinds;
mod calibration;
mod care_setting;
mod chain_length;
mod coming_year;
mod doubt;
mod edit_bike;
mod failure;
mod file_form;
mod fleet;
mod frame;
mod groups;
mod help;
mod hooks;
mod installed;
mod kind_form;
mod linking;
mod lives;
mod measure;
mod method;
mod new_bike;
mod parts;
mod people;
mod plan_shown;
mod plot;
mod policy;
mod proof;
mod qr;
mod ride_files;
mod riding;
mod session;
mod settings;
mod sheets;
mod sign_in;
mod steps;
mod swap;
mod symptom;
mod tables;
mod taught;
mod tool_choice;
mod tools;
mod track;
mod unsubscribe;
mod walk;
mod which;
mod work;
mod worklist;
mod wrong;

use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpResponse, HttpResponseBuilder, Responder, get};
use askama::Template;

use failure::Failure;

pub use failure::explain;
pub use session::PagesOpenAs;

/// What a page answers.
type Answer = Result<HttpResponse, Failure>;

/// Nothing but our own style sheet, script, pictures and forms.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; worker-src 'self'; manifest-src 'self'; connect-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The pages' addresses.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(style)
        .service(script)
        .service(mark)
        .service(installed::manifest)
        .service(installed::worker)
        .service(installed::icon)
        .service(installed::offline)
        .service(help::page)
        .service(fleet::page)
        .service(new_bike::page)
        .service(new_bike::enter)
        .service(bike_kinds::page)
        .service(bike_kinds::make)
        .service(bike_kinds::edit)
        .service(bike_kinds::change)
        .service(bike_kinds::delete)
        .service(bike::page)
        .service(edit_bike::page)
        .service(edit_bike::save)
        .service(bike::correct_start)
        .service(bike::restore)
        .service(bike::fleet)
        .service(bike::void)
        .service(bike::void_care)
        .service(doubt::mend)
        .service(bike::void_swap)
        .service(groups::page)
        .service(groups::declare)
        .service(groups::take_back)
        .service(ride_files::page)
        .service(ride_files::take)
        .service(riding::enter)
        .service(riding::void)
        .service(riding::declare)
        .service(riding::take_back)
        .service(riding::set_care)
        .service(symptom::page)
        .service(symptom::hear)
        .service(symptom::noted)
        .service(symptom::void)
        .service(measure::pick)
        .service(measure::page)
        .service(measure::save)
        .service(measure::result)
        .service(measure::undo)
        .service(swap::undo)
        .service(swap::page)
        .service(swap::save)
        .service(work::care_page)
        .service(work::care)
        .service(work::fit)
        .service(work::remove)
        .service(bench::page)
        .service(bench::compute)
        .service(bench::accept)
        .service(bench::job_done)
        .service(bench::job)
        .service(bench::move_job)
        .service(bench::add_day)
        .service(bench::remove_day)
        .service(bench::book)
        .service(bench::unbook)
        .service(lives::page)
        .service(audit::page)
        .service(parts::page)
        .service(parts::start)
        .service(parts::counted)
        .service(parts::expect)
        .service(parts::arrived)
        .service(parts::new_model)
        .service(track::page)
        .service(calibration::page)
        .service(calibration::ask)
        .service(tools::page)
        .service(tools::make)
        .service(tools::edit)
        .service(tools::change)
        .service(policy::page)
        .service(policy::take_over)
        .service(unsubscribe::page)
        .service(unsubscribe::stop)
        .service(hooks::page)
        .service(hooks::make)
        .service(hooks::test)
        .service(hooks::switch)
        .service(hooks::rotate)
        .service(hooks::remove)
        .service(hooks::repeat)
        .service(linking::page)
        .service(linking::make)
        .service(linking::take_back)
        .service(linking::enter)
        .service(authorize::page)
        .service(authorize::decide)
        .service(sheets::labels)
        .service(walk::page)
        .service(walk::tap)
        .service(worklist::page)
        .service(worklist::table)
        .service(worklist::care_page)
        .service(worklist::care)
        .service(sheets::card)
        .service(sheets::list)
        .service(tables::page)
        .service(tables::template)
        .service(tables::export)
        .service(tables::check)
        .service(tables::import)
        .service(settings::page)
        .service(settings::save)
        .service(settings::save_bench)
        .service(settings::make_token)
        .service(settings::revoke_token)
        .service(settings::renew_calendar)
        .service(settings::close_calendar)
        .service(people::page)
        .service(people::enter)
        .service(people::offer_code)
        .service(people::sign_out)
        .service(people::remove)
        .service(people::own)
        .service(people::own_code)
        .service(people::own_sign_out)
        .service(chain_length::page)
        .service(sign_in::page)
        .service(sign_in::sign_in)
        .service(sign_in::with_code)
        .service(sign_in::invited)
        .service(sign_in::sign_out)
        .service(sign_in::language)
        .service(web::redirect("/", "/fleet").see_other());
}

fn html(page: &impl Template) -> Answer {
    Ok(mannered(HttpResponse::Ok()).body(page.render()?))
}

/// A form that wasn't taken, with what was typed.
fn again(page: &impl Template) -> Answer {
    Ok(mannered(HttpResponse::UnprocessableEntity()).body(page.render()?))
}

/// What every page's answer carries.
fn mannered(mut builder: HttpResponseBuilder) -> HttpResponseBuilder {
    builder
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((header::X_FRAME_OPTIONS, "DENY"))
        .insert_header((header::REFERRER_POLICY, "same-origin"))
        .content_type("text/html; charset=utf-8");
    builder
}

/// On to another page, once a form was taken.
fn see(path: impl Into<String>) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, path.into())).finish()
}

/// A text as part of an address's query.
fn encoded(text: &str) -> String {
    text.bytes().fold(String::new(), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.' | b'~') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
        out
    })
}

#[get("/static/pages.css")]
async fn style() -> impl Responder {
    kept(include_str!("../../../static/pages.css"), "text/css; charset=utf-8")
}

#[get("/static/pages.js")]
async fn script() -> impl Responder {
    kept(include_str!("../../../static/pages.js"), "text/javascript; charset=utf-8")
}

#[get("/static/mark.svg")]
async fn mark() -> impl Responder {
    kept(include_str!("../../../static/mark.svg"), "image/svg+xml")
}

fn kept(text: &'static str, kind: &'static str) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "max-age=600")).content_type(kind).body(text)
}

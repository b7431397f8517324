//! Codes that open a page when a phone's camera sees them.

use std::fmt::Write as _;

use actix_web::HttpRequest;
use qrcode::{Color, EcLevel, QrCode};

/// Light modules around the code (ISO/IEC 18004; M).
const QUIET: usize = 4;

/// The address of one of our pages as others reach it.
pub fn address(request: &HttpRequest, path: &str) -> String {
    let connection = request.connection_info();
    format!("{}://{}{path}", connection.scheme(), connection.host())
}

/// The code as a drawing; nothing when the address is longer than a code holds.
pub fn code(address: &str, title: &str) -> Option<String> {
    let code = QrCode::with_error_correction_level(address, EcLevel::M).ok()?;
    let width = code.width();
    let side = width + 2 * QUIET;
    let mut path = String::new();
    for (y, row) in code.to_colors().chunks(width).enumerate() {
        let mut x = 0;
        // Dark modules beside each other are one bar: a sheet of labels is large enough.
        for run in row.chunk_by(|one, next| one == next) {
            if run.first() == Some(&Color::Dark) {
                let length = run.len();
                let _written = write!(path, "M{} {}h{length}v1h-{length}z", x + QUIET, y + QUIET);
            }
            x += run.len();
        }
    }
    let title: String = title.chars().filter(|c| !matches!(c, '<' | '>' | '&' | '"')).collect();
    Some(format!(
        r#"<svg class="code" viewBox="0 0 {side} {side}" role="img" aria-label="{title}"><rect class="code-light" width="{side}" height="{side}"/><path class="code-dark" d="{path}"/></svg>"#
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_its_three_corners_and_its_quiet_edge() {
        let drawn = code("https://yard.example/bikes/1/measure", "Bike <1>").unwrap();
        assert!(drawn.contains("M4 4h7v1h-7z") && !drawn.contains("M3 ") && drawn.contains("Bike 1"));
        assert!(code(&"x".repeat(5_000), "").is_none());
    }
}

//! Whatever stands where a list's cursor should: a cursor that is written back as it was read, or an error.
#![no_main]
#![allow(dead_code, unused_imports)]

/// The service's own source, without the service: only what reads is built.
#[path = "."]
mod domain {
    #[path = "../../wear-api/src/domain/field.rs"]
    mod field;
    #[path = "../../wear-api/src/domain/invalid.rs"]
    mod invalid;
    #[path = "../../wear-api/src/domain/page.rs"]
    mod page;
    #[path = "../../wear-api/src/domain/timestamp.rs"]
    mod timestamp;

    pub use field::{Field, Form};
    pub use invalid::{FieldError, FieldErrors, Invalid};
    pub use page::{Cursor, Page, PageSize};
    pub use timestamp::Timestamp;
}

use domain::{Cursor, PageSize};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let Ok(given) = std::str::from_utf8(data) else { return };
    if let Ok(number) = given.parse() {
        assert_eq!(PageSize::new(number).is_ok(), (1..=100).contains(&number));
    }
    match given.parse::<Cursor>() {
        Ok(cursor) => {
            let written = cursor.to_string();
            // It goes into a link: nothing that would have to be escaped, and no longer than it came.
            assert!(written.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-'), "{written}");
            assert!(written.len() <= given.len());
            assert_eq!(written.parse::<Cursor>(), Ok(cursor.clone()));
            let kinds = [cursor.id().is_ok(), cursor.number().is_ok(), cursor.text().is_ok()];
            assert_eq!(kinds.iter().filter(|is| **is).count(), 1);
        }
        Err(error) => assert!(!error.to_string().is_empty() && !error.allowed().is_empty()),
    }
});

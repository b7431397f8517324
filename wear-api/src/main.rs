//! wear-api
fn main() {}

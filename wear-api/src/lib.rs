//! wear-api

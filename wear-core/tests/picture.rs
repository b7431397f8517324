//! The picture in the documentation is the one that the example draws today.

#[allow(dead_code)]
#[path = "../examples/posterior_picture.rs"]
mod posterior_picture;

#[test]
fn the_picture_is_up_to_date() {
    let drawn = posterior_picture::picture().unwrap();
    assert!(
        !drawn.contains("\n\n") && !drawn.contains("NaN"),
        "a blank line would end it in the documentation"
    );
    assert_eq!(drawn, include_str!("../doc/posterior.svg"));
}

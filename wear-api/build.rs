//! Builds again when a migration is added: the program carries them.

fn main() {
    println!("cargo::rerun-if-changed=../migrations");
}

//! What a token may do.

wear_core::vocabulary! {
    /// What the holder of a token may do. Each role may do what the ones after it may.
    Role, "role" {
        /// Settings, tokens, hooks and imports, and all that a mechanic may.
        Manager = "manager",
        /// The workshop's daily work.
        Mechanic = "mechanic",
        /// Enters bikes with what happens to them, reads outlooks, and has hooks of its own.
        App = "app",
    }
}

impl Role {
    /// Whether a holder of this role may do what `needed` is for.
    #[must_use]
    pub const fn covers(self, needed: Self) -> bool {
        self as u8 <= needed as u8
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roles_are_nested() {
        for (holder, needed, allowed) in [
            (Role::Manager, Role::App, true),
            (Role::Mechanic, Role::Mechanic, true),
            (Role::Mechanic, Role::Manager, false),
            (Role::App, Role::Mechanic, false),
        ] {
            assert_eq!(holder.covers(needed), allowed, "{holder} {needed}");
        }
    }
}

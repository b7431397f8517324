//! Numerical pieces that no crate gives in the form needed here.

pub(crate) mod fourier;
pub(crate) mod normal;
pub(crate) mod root;

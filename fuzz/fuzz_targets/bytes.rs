//! Values from the fuzzer's bytes.

/// Takes values off the front of the input; zeros when it runs out.
pub struct Bytes<'a>(pub &'a [u8]);

#[allow(dead_code)]
impl Bytes<'_> {
    pub fn byte(&mut self) -> u8 {
        let (first, rest) = self.0.split_first().unwrap_or((&0, &[]));
        self.0 = rest;
        *first
    }

    /// Any double at all, or one of the usual magnitudes.
    pub fn number(&mut self, low: f64, high: f64) -> f64 {
        if self.byte() == 0 {
            let mut raw = [0; 8];
            raw.iter_mut().for_each(|byte| *byte = self.byte());
            f64::from_le_bytes(raw)
        } else {
            let share = f64::from(u16::from_le_bytes([self.byte(), self.byte()])) / f64::from(u16::MAX);
            low + share * (high - low)
        }
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

//! Pages of a list, by keyset: each starts after the last entry of the one before.

use super::{Field, Form};
use std::fmt;
use std::str::FromStr;

use uuid::Uuid;

use super::Invalid;

/// Entries of one page, 1 to 100.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PageSize(u8);

impl PageSize {
    /// The largest page.
    pub const LARGEST: Self = Self(Self::MAXIMUM);

    /// Most entries of a page.
    pub const MAXIMUM: u8 = 100;

    /// A number of entries, 1 to 100.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn new(given: i64) -> Result<Self, Invalid> {
        match u8::try_from(given) {
            Ok(size @ 1..=Self::MAXIMUM) => Ok(Self(size)),
            _ => Err(Invalid::WholeNumber {
                what: Field::Limit,
                given,
                minimum: 1,
                maximum: i64::from(Self::MAXIMUM),
            }),
        }
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> usize {
        self.0 as usize
    }
}

impl Default for PageSize {
    /// 50.
    fn default() -> Self {
        Self(50)
    }
}

/// The last entry of a page: where the next begins. Opaque to clients.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cursor {
    /// In a list by id.
    Id(Uuid),
    /// In a list by a number (a day, an instant), then id.
    Number(i64, Uuid),
    /// In a list by a text, then id.
    Text(String, Uuid),
}

const ALLOWED: Form = Form::Cursor;

impl Cursor {
    fn foreign() -> Invalid {
        Invalid::Malformed { what: Field::After, allowed: ALLOWED }
    }

    /// The key of a list by id.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] when the cursor is another kind of list's.
    pub fn id(&self) -> Result<Uuid, Invalid> {
        if let Self::Id(id) = self { Ok(*id) } else { Err(Self::foreign()) }
    }

    /// The key of a list by number.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] when the cursor is another kind of list's.
    pub fn number(&self) -> Result<(i64, Uuid), Invalid> {
        if let Self::Number(number, id) = self { Ok((*number, *id)) } else { Err(Self::foreign()) }
    }

    /// The key of a list by text.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] when the cursor is another kind of list's.
    pub fn text(&self) -> Result<(&str, Uuid), Invalid> {
        if let Self::Text(text, id) = self { Ok((text, *id)) } else { Err(Self::foreign()) }
    }
}

impl fmt::Display for Cursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Id(id) => write!(f, "i{}", id.simple()),
            Self::Number(number, id) => write!(f, "n{}{number}", id.simple()),
            Self::Text(text, id) => {
                write!(f, "t{}", id.simple())?;
                text.bytes().try_for_each(|byte| write!(f, "{byte:02x}"))
            }
        }
    }
}

impl FromStr for Cursor {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        parse(given).ok_or_else(Self::foreign)
    }
}

fn parse(given: &str) -> Option<Cursor> {
    if !given.is_ascii() || given.len() > 4_096 {
        return None;
    }
    let id = Uuid::try_parse(given.get(1..33)?).ok()?;
    let rest = &given[33..];
    match given.as_bytes()[0] {
        b'i' if rest.is_empty() => Some(Cursor::Id(id)),
        b'n' => Some(Cursor::Number(rest.parse().ok()?, id)),
        b't' if rest.len().is_multiple_of(2) => {
            let bytes = (0..rest.len() / 2)
                .map(|i| u8::from_str_radix(&rest[2 * i..2 * i + 2], 16).ok())
                .collect::<Option<Vec<u8>>>()?;
            Some(Cursor::Text(String::from_utf8(bytes).ok()?, id))
        }
        _ => None,
    }
}

/// Which page of a list is asked for. The first, of the usual size, by default.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PageRequest {
    /// The entry that it begins after; none for the first page.
    pub after: Option<Cursor>,
    /// Most entries.
    pub size: PageSize,
}

impl PageRequest {
    /// The first page.
    #[must_use]
    pub const fn first(size: PageSize) -> Self {
        Self { after: None, size }
    }

    /// The id that a list by id goes on after; `edge` for the first page.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] when the cursor is another kind of list's.
    pub fn after_id(&self, edge: Uuid) -> Result<Uuid, Invalid> {
        self.after.as_ref().map_or(Ok(edge), Cursor::id)
    }

    /// The key that a list by number goes on after; `edge` for the first page.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] when the cursor is another kind of list's.
    pub fn after_number(&self, edge: (i64, Uuid)) -> Result<(i64, Uuid), Invalid> {
        self.after.as_ref().map_or(Ok(edge), Cursor::number)
    }

    /// The key that a list by text goes on after; `edge` for the first page.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] when the cursor is another kind of list's.
    pub fn after_text<'a>(&'a self, edge: (&'a str, Uuid)) -> Result<(&'a str, Uuid), Invalid> {
        self.after.as_ref().map_or(Ok(edge), Cursor::text)
    }

    /// Rows to look for: one more than the page may hold, which shows that there is a next page.
    #[must_use]
    pub const fn rows(&self) -> i64 {
        self.size.get() as i64 + 1
    }

    /// The page from at most [`Self::rows`] rows.
    #[must_use]
    pub fn cut<T>(&self, mut items: Vec<T>, cursor: impl Fn(&T) -> Cursor) -> Page<T> {
        let more = items.len() > self.size.get();
        items.truncate(self.size.get());
        let next = if more { items.last().map(cursor) } else { None };
        Page { items, next }
    }
}

/// One page of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page<T> {
    /// Its entries.
    pub items: Vec<T>,
    /// Where the next page begins; none on the last.
    pub next: Option<Cursor>,
}

impl<T> Page<T> {
    /// The same page with other entries.
    #[must_use]
    pub fn map<U>(self, change: impl FnMut(T) -> U) -> Page<U> {
        Page { items: self.items.into_iter().map(change).collect(), next: self.next }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_reads_back() {
        let id = Uuid::now_v7();
        for cursor in [
            Cursor::Id(id),
            Cursor::Number(-5, id),
            Cursor::Number(i64::MAX, id),
            Cursor::Text("straße 7".to_owned(), id),
            Cursor::Text(String::new(), id),
        ] {
            let text = cursor.to_string();
            assert!(text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-'), "{text}");
            assert_eq!(text.parse::<Cursor>(), Ok(cursor));
        }
    }

    #[test]
    fn what_is_no_cursor_is_refused() {
        let id = Uuid::now_v7().simple().to_string();
        let odd = format!("t{id}abc");
        let bytes = format!("t{id}ff");
        for given in ["", "i", "x", "é", &id, &odd, &bytes, &format!("n{id}"), &format!("i{id}0")] {
            assert!(given.parse::<Cursor>().is_err(), "{given}");
        }
    }

    #[test]
    fn a_page_points_on_only_when_there_is_more() {
        let first = PageRequest::first(PageSize::new(2).unwrap());
        let page = |count: u128| first.cut((0..count).map(Uuid::from_u128).collect(), |id| Cursor::Id(*id));
        assert_eq!(page(2).next, None);
        assert_eq!(page(3).next, Some(Cursor::Id(Uuid::from_u128(1))));
        assert_eq!(page(3).items.len(), 2);
    }
}

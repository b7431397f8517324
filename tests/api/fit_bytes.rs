//! FIT files written by hand for the tests: nothing of the library that reads them is used.

/// Seconds from 1970 to 1989-12-31, where FIT counts from.
pub const EPOCH: u32 = 631_065_600;

/// One field of a message: number, base type, bytes.
pub type Field = (u8, u8, Vec<u8>);

/// An enumeration's field.
pub fn word(number: u8, value: u8) -> Field {
    (number, 0x00, vec![value])
}

/// A byte's field.
pub fn byte(number: u8, value: u8) -> Field {
    (number, 0x02, vec![value])
}

/// A field of two bytes.
pub fn short(number: u8, value: u16) -> Field {
    (number, 0x84, value.to_le_bytes().to_vec())
}

/// A field of four bytes.
pub fn long(number: u8, value: u32) -> Field {
    (number, 0x86, value.to_le_bytes().to_vec())
}

/// A field of four bytes with a sign.
pub fn signed(number: u8, value: i32) -> Field {
    (number, 0x85, value.to_le_bytes().to_vec())
}

/// What a definition says: the message's number, and number, size and base type of each field.
type Definition = (u16, Vec<(u8, u8, u8)>);

/// Messages by global number, each with its definition before it where the last one differs.
pub fn file(messages: &[(u16, Vec<Field>)]) -> Vec<u8> {
    let mut data = Vec::new();
    let mut defined: Option<Definition> = None;
    for (number, fields) in messages {
        let shape: Vec<(u8, u8, u8)> =
            fields.iter().map(|(field, kind, value)| (*field, value.len() as u8, *kind)).collect();
        let definition = (*number, shape);
        if defined.as_ref() != Some(&definition) {
            data.extend([0x40, 0, 0]);
            data.extend(number.to_le_bytes());
            data.push(fields.len() as u8);
            definition.1.iter().for_each(|(field, size, kind)| data.extend([*field, *size, *kind]));
            defined = Some(definition);
        }
        data.push(0);
        fields.iter().for_each(|(.., value)| data.extend(value));
    }
    let mut file = vec![14, 0x20, 0x00, 0x08];
    file.extend((data.len() as u32).to_le_bytes());
    file.extend(b".FIT");
    file.extend(crc(&file).to_le_bytes());
    file.extend(&data);
    let end = crc(&data);
    file.extend(end.to_le_bytes());
    file
}

/// The protocol's cyclic redundancy check, polynomial 0x8005 reflected, bit by bit.
fn crc(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |crc, byte| {
        (0..8)
            .fold(crc ^ u16::from(*byte), |crc, _| if crc & 1 == 1 { (crc >> 1) ^ 0xA001 } else { crc >> 1 })
    })
}

/// Semicircles of so many degrees.
pub fn semicircles(degrees: f64) -> i32 {
    (degrees * 2_147_483_648.0 / 180.0).round() as i32
}

//! Rasters as pictures that a page can hold.

use std::io::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::DeflateEncoder;

/// A grey PNG as a `data:` address. `grey` holds one byte a pixel, row by row.
pub(crate) fn grey_png((width, height): (u32, u32), grey: &[u8], compression: png::Compression) -> String {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(compression);
    let mut writer = encoder.write_header().expect("memory can be written to");
    writer.write_image_data(grey).expect("one byte a pixel");
    writer.finish().expect("memory can be written to");
    format!("data:image/png;base64,{}", STANDARD.encode(bytes))
}

/// Numbers as 32 bits each, little-endian, deflated (RFC 1951) and in base64.
pub(crate) fn deflated_base64(values: &[u32]) -> String {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
    for value in values {
        encoder.write_all(&value.to_le_bytes()).expect("memory can be written to");
    }
    STANDARD.encode(encoder.finish().expect("memory can be written to"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_decodes_to_the_same_pixels() {
        let grey = [0, 50, 100, 150, 200, 250];
        let uri = grey_png((3, 2), &grey, png::Compression::Fast);
        let bytes = STANDARD.decode(uri.strip_prefix("data:image/png;base64,").unwrap()).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
        let mut found = vec![0; 6];
        reader.next_frame(&mut found).unwrap();
        assert_eq!(found, grey);
    }
}

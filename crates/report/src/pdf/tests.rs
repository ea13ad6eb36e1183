use std::io::Read;

use flate2::read::ZlibDecoder;

use super::*;

const THREE_CHARACTERS: &[u8] = include_bytes!("../../fonts/three_characters.ttf");

fn svg((width, height): (f64, f64), content: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\" font-family=\"'DejaVu Sans', Verdana\">{content}</svg>"
    )
}

fn line(text: &str) -> String {
    svg((100.0, 50.0), &format!("<text x=\"10\" y=\"20\" font-size=\"5\">{text}</text>"))
}

fn pdf(fonts: &Fonts, pages: &[String]) -> Result<Vec<u8>, PdfError> {
    let mut pdf = PdfPages::new(fonts);
    pdf.add(pages)?;
    pdf.finish("A title", "2026-11-25")
}

/// The file with its streams inflated (ISO 32000-1, 7.3.8 and 7.4.4).
fn inflated(pdf: &[u8]) -> String {
    let mut text = String::from_utf8_lossy(pdf).into_owned();
    let mark = b"stream\n";
    for at in (0..pdf.len() - mark.len()).filter(|&at| pdf[at..].starts_with(mark)) {
        let mut bytes = Vec::new();
        // What ends a stream looks the same; it inflates to nothing.
        let _ = ZlibDecoder::new(&pdf[at + mark.len()..]).read_to_end(&mut bytes);
        text += &String::from_utf8_lossy(&bytes);
    }
    text
}

/// The numbers of `/MediaBox` in order.
fn page_sizes(pdf: &[u8]) -> Vec<[f64; 2]> {
    let text = inflated(pdf);
    let boxes = text.split("/MediaBox").skip(1).map(|rest| &rest[rest.find('[').unwrap() + 1..rest.find(']').unwrap()]);
    let numbers = boxes.map(|numbers| numbers.split_whitespace().map(|n| n.parse().unwrap()).collect::<Vec<f64>>());
    numbers.map(|numbers| [numbers[2] - numbers[0], numbers[3] - numbers[1]]).collect()
}

#[test]
fn pages_have_the_size_of_their_svg() {
    // ISO 216 and ANSI/ASME Y14.1; a point is 1/72 inch.
    let sizes = [(215.9, 279.4), (210.0, 297.0), (420.0, 297.0), (279.4, 431.8)];
    let found = page_sizes(&pdf(&Fonts::embedded(), &sizes.map(|size| svg(size, ""))).unwrap());
    assert_eq!(found.len(), sizes.len());
    for ((width, height), found) in sizes.into_iter().zip(found) {
        let expected = [width, height].map(|mm| mm / 25.4 * 72.0);
        assert!(expected.iter().zip(found).all(|(expected, found)| (expected - found).abs() < 0.01), "{found:?}");
    }
}

/// A mapping of glyphs to UTF-16 for every character (ISO 32000-1, 9.10.3), by which a reader finds and copies text.
#[track_caller]
fn check_text(fonts: &Fonts, text: &str) {
    let found = inflated(&pdf(fonts, &[line(text)]).unwrap());
    assert!(found.contains("/ToUnicode"));
    for character in text.chars().filter(|character| !character.is_whitespace()) {
        assert!(found.contains(&format!("<{:04X}>", u32::from(character))), "{character} of {text}");
    }
}

#[test]
fn text_stays_text() {
    check_text(&Fonts::embedded(), "Parcel 0527-030: 12.5 m²");
    check_text(&Fonts::embedded(), "Łąka Ørsted");
    check_text(&Fonts::embedded(), "בעלים");
}

#[test]
fn an_added_font_gives_its_characters() {
    check_text(&Fonts::embedded().with_file(THREE_CHARACTERS.to_vec()).unwrap(), "Owner 山田川");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let pages = [line("one"), line("<tspan font-weight=\"700\">two</tspan>"), line("山")];
    let fonts = || Fonts::embedded().with_file(THREE_CHARACTERS.to_vec()).unwrap();
    assert_eq!(pdf(&fonts(), &pages).unwrap(), pdf(&fonts(), &pages).unwrap());
}

#[test]
fn missing_characters_are_named_with_their_texts() {
    let pages = [line("Owner 山 of lot 4"), line("plain"), line("川 and 山"), line("山")];
    let Err(PdfError::MissingGlyphs(found)) = pdf(&Fonts::embedded(), &pages) else { panic!("not refused") };
    let found: Vec<String> = found.iter().map(ToString::to_string).collect();
    let expected = ["'山' (U+5C71) in \"Owner 山 of lot 4\" and 2 more lines", "'川' (U+5DDD) in \"川 and 山\""]
        .map(str::to_owned);
    assert_eq!(found, expected);
}

#[test]
fn only_the_character_that_no_font_has_is_named() {
    let fonts = Fonts::embedded().with_file(THREE_CHARACTERS.to_vec()).unwrap();
    let Err(PdfError::MissingGlyphs(found)) = pdf(&fonts, &[line("한 山")]) else { panic!("not refused") };
    assert_eq!(found.iter().map(|glyph| glyph.character).collect::<String>(), "한");
}

#[test]
fn the_day_and_the_title_are_written() {
    let text = inflated(&pdf(&Fonts::embedded(), &[line("one")]).unwrap());
    for part in ["/CreationDate(D:20261125", "/Title(A title)", "/Creator(Fallwright "] {
        assert!(text.contains(part), "{part}");
    }
    let dates = ["2026-11", "", "today", "2026-xx-01"].map(|text| date(text).is_none());
    assert_eq!(dates, [true; 4]);
}

#[test]
fn files_named_in_an_svg_are_not_read() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/pictures/water_paths.png");
    let picture = |href: &str| svg((50.0, 50.0), &format!("<image href=\"{href}\" width=\"50\" height=\"50\"/>"));
    let has_picture =
        |href: &str| inflated(&pdf(&Fonts::embedded(), &[picture(href)]).unwrap()).contains("/Subtype/Image");
    assert!(!has_picture(file));
    assert!(has_picture(&crate::picture::grey_png((1, 1), &[128], png::Compression::Fast)));
}

#[test]
fn what_is_no_svg_is_an_error_with_its_page() {
    let error = pdf(&Fonts::embedded(), &[line("one"), "<svg".to_owned()]).unwrap_err();
    assert!(error.to_string().starts_with("page 2 cannot be read as SVG: "), "{error}");
}

//! The page put together: one file, nothing fetched, only its own two scripts allowed to run.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use super::content::Overview;
use crate::escape::{html, json_in_html};
use crate::palette::PALETTE_JSON;

const TEMPLATE: &str = include_str!("page.html");
const STYLE: &str = include_str!("page.css");
const SCRIPTS: [&str; 8] = [
    include_str!("script/data.js"),
    include_str!("script/words.js"),
    include_str!("script/map.js"),
    include_str!("script/paths.js"),
    include_str!("script/profile.js"),
    include_str!("script/answer.js"),
    include_str!("script/table.js"),
    include_str!("script/start.js"),
];
const LEAFLET: &str = include_str!("vendor/leaflet-1.9.4/leaflet.js");
const LEAFLET_STYLE: &str = include_str!("vendor/leaflet-1.9.4/leaflet.css");
const LEAFLET_LICENCE: &str = include_str!("vendor/leaflet-1.9.4/LICENSE");

/// The whole page. Every text of the case is data in it, never markup or script.
pub(crate) fn overview_page(overview: &Overview) -> String {
    let script = format!("\"use strict\";\n(() => {{\n{}}})();\n", SCRIPTS.concat());
    // A browser reads CR LF as LF, and hashes what it has read.
    let style = format!("{LEAFLET_STYLE}\n{STYLE}").replace("\r\n", "\n");
    let policy = format!(
        "default-src 'none'; img-src data:; style-src '{}'; script-src '{}' '{}'; base-uri 'none'; form-action 'none'",
        source_hash(&style),
        source_hash(leaflet()),
        source_hash(&script)
    );
    let data = serde_json::to_string(overview).expect("plain values have a JSON form");
    let parts = [
        ("policy", policy.as_str()),
        ("style", &style),
        ("title", &html(&overview.furniture.title)),
        ("caution", &html(&overview.furniture.caution)),
        ("licence", &html(LEAFLET_LICENCE)),
        ("data", &json_in_html(&data)),
        ("palette", &json_in_html(PALETTE_JSON)),
        ("leaflet", leaflet()),
        ("script", &script),
    ];
    filled(TEMPLATE, &parts)
}

/// Without the last line, which names a file that the page does not have.
fn leaflet() -> &'static str {
    LEAFLET.split("\n//# sourceMappingURL").next().unwrap_or(LEAFLET)
}

/// As a content security policy names an inline script or style (W3C, Content Security Policy Level 3, section 2.3.1).
fn source_hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

/// Puts each part in its place, `{{name}}`; what stands in a part is not looked at again.
fn filled(template: &str, parts: &[(&str, &str)]) -> String {
    let mut page = String::new();
    let mut rest = template;
    while let Some((before, after)) = rest.split_once("{{") {
        let (name, after) = after.split_once("}}").expect("places in the template are closed");
        page.push_str(before);
        page.push_str(parts.iter().find(|part| part.0 == name).expect("places in the template have a part").1);
        rest = after;
    }
    page + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_that_looks_like_a_place_stays_as_it_is() {
        assert_eq!(filled("a {{x}} b {{y}}", &[("x", "{{y}}"), ("y", "1")]), "a {{y}} b 1");
    }

    /// The policy's example: `sha256-` of `alert('Hello, world.');` in the W3C text, section 2.3.1.
    #[test]
    fn a_script_is_named_by_its_hash() {
        assert_eq!(source_hash("alert('Hello, world.');"), "sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng=");
    }
}

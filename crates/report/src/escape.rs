//! Texts of a case inside markup.

/// As text or as a quoted attribute in HTML and SVG. Characters that XML 1.0 does not allow become U+FFFD.
pub(crate) fn html(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            '\t' | '\n' | '\r' => escaped.push(character),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => escaped.push('\u{fffd}'),
            _ => escaped.push(character),
        }
    }
    escaped
}

/// JSON inside a `script` element of a data type: nothing in it can end the element or open a comment.
pub(crate) fn json_in_html(json: &str) -> String {
    json.replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_stays_text() {
        let check = |text, expected| assert_eq!(html(text), expected);
        check("<b a='1'>&\"", "&lt;b a=&#39;1&#39;&gt;&amp;&quot;");
        check("a\u{0}b\u{b}c\nd", "a\u{fffd}b\u{fffd}c\nd");
    }

    #[test]
    fn json_reads_the_same_and_ends_no_element() {
        let json = serde_json::to_string("</script><!-- & 'x' \u{2028}").unwrap();
        let escaped = json_in_html(&json);
        assert!(!escaped.contains(['<', '>', '&']), "{escaped}");
        let read: String = serde_json::from_str(&escaped).unwrap();
        assert_eq!(read, "</script><!-- & 'x' \u{2028}");
    }
}

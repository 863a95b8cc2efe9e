//! CSV as spreadsheets open it unharmed.

/// Quotes a text where CSV needs it or a spreadsheet would cut it, and defuses one that it would run as a formula. In some
/// countries spreadsheets cut lines at `;`.
pub fn text(text: &str) -> String {
    let risky = |c: char| matches!(c, '=' | '+' | '-' | '@' | '\'' | '\t' | '\r' | '\n' | '\0');
    let defused = if text.starts_with(risky) { format!("'{text}") } else { text.to_owned() };
    if defused.contains([',', ';', '\t', '"', '\r', '\n']) {
        format!("\"{}\"", defused.replace('"', "\"\""))
    } else {
        defused
    }
}

/// Writes a number that may be missing.
pub fn number<T: ToString>(number: Option<T>) -> String {
    number.map(|number| number.to_string()).unwrap_or_default()
}

/// Writes a line (RFC 4180) of cells.
pub fn line(cells: &[String]) -> String {
    cells.join(",") + "\r\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_that_a_spreadsheet_would_run_is_defused() {
        for (said, cell) in [
            ("Ada", "Ada"),
            ("=1+1", "'=1+1"),
            ("-x", "'-x"),
            ("'x", "''x"),
            ("a,b", "\"a,b\""),
            ("a;b", "\"a;b\""),
            (";=1+1", "\";=1+1\""),
            ("=1;2", "\"'=1;2\""),
            ("say \"hi\"", "\"say \"\"hi\"\"\""),
            ("@\"", "\"'@\"\"\""),
        ] {
            assert_eq!(text(said), cell, "{said}");
        }
    }
}

//! The project's documents as parts of pages: as much of Markdown as those use that are shown.

use super::charts::escaped;
use std::fmt::Write as _;

/// Writes a document as HTML, without its first heading, which the page has already.
///
/// A link leads on where this server has the page, or another host; elsewhere only its words stay.
pub fn html(text: &str) -> String {
    let (mut out, mut block) = (String::new(), Block::default());
    let mut is_code = false;
    for line in text.lines() {
        if line.starts_with("```") {
            out.push_str(&block.end());
            out.push_str(if is_code {
                "</code></pre></div>\n"
            } else {
                "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Example\"><pre><code>"
            });
            is_code = !is_code;
        } else if is_code {
            let _ = writeln!(out, "{}", escaped(line));
        } else if let Some(heading) = line.strip_prefix("## ") {
            let _ = writeln!(out, "{}<h2>{}</h2>", block.end(), inline(heading));
        } else if let Some(item) = line.strip_prefix("- ") {
            let _ = write!(out, "{}<li>", if block.is_list { block.end_item() } else { block.end() + "<ul>\n" });
            block = Block { is_list: true, lines: item.to_owned() };
        } else if line.is_empty() || line.starts_with("# ") || line.starts_with("<!--") {
            out.push_str(&block.end());
        } else {
            block.add(line.trim_start());
        }
    }
    out + &block.end()
}

/// The paragraph or the item of a list that is being read.
#[derive(Default)]
struct Block {
    is_list: bool,
    lines: String,
}

impl Block {
    fn add(&mut self, line: &str) {
        if !self.lines.is_empty() {
            self.lines.push('\n');
        }
        self.lines.push_str(line);
    }

    fn end_item(&mut self) -> String {
        inline(&std::mem::take(&mut self.lines)) + "</li>\n"
    }

    fn end(&mut self) -> String {
        match (std::mem::take(&mut self.is_list), self.lines.is_empty()) {
            (true, _) => self.end_item() + "</ul>\n",
            (false, true) => String::new(),
            (false, false) => format!("<p>{}</p>\n", inline(&std::mem::take(&mut self.lines))),
        }
    }
}

/// Writes what stands within a line: code, strong words, links.
fn inline(mut text: &str) -> String {
    let mut out = String::new();
    while let Some(at) = text.find(['`', '*', '[']) {
        out.push_str(&escaped(&text[..at]));
        text = &text[at..];
        let (written, rest) = marked(text).unwrap_or_else(|| (escaped(&text[..1]), &text[1..]));
        out.push_str(&written);
        text = rest;
    }
    out + &escaped(text)
}

/// Writes what is marked at the beginning of a text, and returns what follows it.
fn marked(text: &str) -> Option<(String, &str)> {
    let between = |open: &str, close: &str| text.strip_prefix(open)?.split_once(close);
    if let Some((code, rest)) = between("`", "`") {
        return Some((format!("<code>{}</code>", escaped(code)), rest));
    }
    if let Some((strong, rest)) = between("**", "**") {
        return Some((format!("<strong>{}</strong>", inline(strong)), rest));
    }
    let (words, rest) = between("[", "](")?;
    let (to, rest) = rest.split_once(')')?;
    let words = inline(words);
    Some(match served(to) {
        Some(address) => (format!("<a href=\"{}\">{words}</a>", escaped(&address)), rest),
        None => (words, rest),
    })
}

/// Returns the address at which a browser finds what a document links to.
fn served(to: &str) -> Option<String> {
    if to.starts_with("https://") {
        return Some(to.to_owned());
    }
    let slug = to.strip_prefix("problems/")?.strip_suffix(".md")?;
    Some(format!("/problems/{slug}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_document_becomes_a_part_of_a_page() {
        let text = "# Title\n\nOne <b>\n`a < b` **of `two`**.\n\n## Next\n\n- first\n  goes on\n- [second](problems/stale.md)\n\n\
                    [gone](players.md) 2 * 3\n```sh\na && b\n\n```\n";
        assert_eq!(
            html(text),
            "<p>One &lt;b>\n<code>a &lt; b</code> <strong>of <code>two</code></strong>.</p>\n<h2>Next</h2>\n\
             <ul>\n<li>first\ngoes on</li>\n<li><a href=\"/problems/stale\">second</a></li>\n</ul>\n\
             <p>gone 2 * 3</p>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Example\"><pre><code>\
             a &amp;&amp; b\n\n</code></pre></div>\n"
        );
    }
}

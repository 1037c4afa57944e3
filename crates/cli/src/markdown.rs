//! Markdown as a page: as much of it as the format reference uses.

use crate::page::Page;

/// Sets a Markdown text on a page. Rows of a table become entries, since lines of
/// a terminal are too short for its columns.
pub fn set(page: &mut Page, text: &str) {
    let mut lines = text.lines().peekable();
    let mut heads: Vec<String> = Vec::new();
    while let Some(line) = lines.next() {
        if let Some(heading) = line.strip_prefix("# ").or(line.strip_prefix("## ")) {
            page.heading(heading);
        } else if line.starts_with("```") {
            let code = lines.by_ref().take_while(|line| !line.starts_with("```"));
            code.for_each(|line| page.lines(format_args!("    {line}\n")));
        } else if line.starts_with("|---") {
            continue;
        } else if line.starts_with('|') {
            if lines.peek().is_some_and(|next| next.starts_with("|---")) {
                heads = cells(line);
            } else {
                row(page, &heads, &cells(line));
            }
        } else if line.is_empty() {
            if lines.peek().is_some_and(|next| !next.starts_with('#')) {
                page.gap();
            }
        } else {
            let mut whole = line.to_owned();
            while let Some(more) = lines.next_if(|next| continues(next)) {
                whole = format!("{whole} {}", more.trim_start());
            }
            match whole.strip_prefix("- ") {
                Some(item) => page.item("- ", &plain(item)),
                None => page.paragraph(&plain(&whole)),
            }
        }
    }
}

/// Whether a line goes on with the paragraph above it.
fn continues(line: &str) -> bool {
    !(line.is_empty() || line.starts_with(['|', '#', '-', '`']))
}

fn cells(line: &str) -> Vec<String> {
    line.trim_matches('|').split('|').map(|cell| plain(cell.trim())).collect()
}

/// The first cell as a name, the second as its meaning, the others in one line
/// under their heads.
fn row(page: &mut Page, heads: &[String], cells: &[String]) {
    if let Some(name) = cells.first() {
        page.strong(name);
    }
    if let Some(meaning) = cells.get(1) {
        page.item("    ", meaning);
    }
    let rest = heads.iter().zip(cells).skip(2);
    let rest: Vec<String> = rest.map(|(head, cell)| format!("{head}: {cell}.")).collect();
    if !rest.is_empty() {
        page.item("    ", &rest.join(" "));
    }
}

/// Without the marks of code and links.
fn plain(text: &str) -> String {
    let mut text = text.replace('`', "");
    while let Some(middle) = text.find("](") {
        let Some(start) = text[..middle].rfind('[') else { break };
        let Some(end) = text[middle..].find(')') else { break };
        text =
            format!("{}{}{}", &text[..start], &text[start + 1..middle], &text[middle + end + 1..]);
    }
    text
}

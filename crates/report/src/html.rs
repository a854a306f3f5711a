//! A document as one page: style and pictures inside, no script, nothing loaded.

use std::fmt::Write as _;

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use markup::escaped;
use sha2::{Digest as _, Sha256};

use crate::document::{Block, Document, Figure, Table};

/// Narrow screens show each cell of a table on a line of its own, with its column's name.
const STYLE: &str = "\
:root{color-scheme:light}\
*{box-sizing:border-box}\
body{margin:0 auto;max-width:60rem;padding:1.5rem 1rem 3rem;background:#fffdf8;color:#1d2430;\
font:1rem/1.45 'Atkinson Hyperlegible',Arial,'Liberation Sans',Helvetica,sans-serif;overflow-wrap:break-word}\
h1{font-size:1.7rem;line-height:1.2;margin:0 0 .3rem}\
h2{font-size:1.25rem;margin:2rem 0 .5rem;padding-top:.6rem;border-top:1px solid #cfc8ba;break-after:avoid}\
h3{font-size:1.05rem;margin:1.2rem 0 .4rem;break-after:avoid}\
p{margin:.5rem 0;orphans:2;widows:2}\
.below,figcaption{color:#625e57}\
ul{margin:.5rem 0;padding-left:1.3rem}\
li{margin:.2rem 0}\
dl{margin:.5rem 0;display:grid;grid-template-columns:minmax(8rem,14rem) 1fr;gap:.25rem 1rem}\
dt{font-weight:700}\
dd{margin:0}\
table{border-collapse:collapse;width:100%;margin:.6rem 0;font-size:.92rem}\
thead{display:table-header-group}\
th,td{text-align:left;vertical-align:top;padding:.35rem .7rem .35rem 0;border-bottom:1px solid #cfc8ba}\
th{border-bottom:2px solid #1d2430}\
tr{break-inside:avoid}\
figure{margin:1rem 0;break-inside:avoid}\
.drawn{overflow-x:auto}\
.drawn svg{display:block;max-width:100%;height:auto}\
figcaption{font-size:.92rem;margin-top:.3rem}\
.mind{margin:1rem 0;padding:.5rem .9rem;border-left:4px solid #a84514;background:#fdeee2;break-inside:avoid}\
@media screen and (max-width:40rem){\
dl{display:block}dd{margin:0 0 .5rem}\
.drawn svg{max-width:none}\
thead{position:absolute;clip-path:inset(50%)}\
tr{display:block;padding:.4rem 0;border-bottom:1px solid #8d9894}\
td{display:grid;grid-template-columns:7.5rem 1fr;gap:.6rem;border:0;padding:.12rem 0}\
td:empty{display:none}\
td::before{content:attr(data-of);color:#625e57}}\
@page{size:A4;margin:18mm}\
@media print{body{padding:0;max-width:none;background:#fff;font-size:10pt}}";

/// What such a page may do, as a content security policy: show itself in its own style, nothing else.
pub fn policy() -> String {
    let hash = BASE64_STANDARD.encode(Sha256::digest(STYLE));
    format!("default-src 'none'; style-src 'sha256-{hash}'; base-uri 'none'; form-action 'none'")
}

/// Writes a document as one page of HTML that stands alone.
///
/// Every text is escaped; pictures are put in as they are, so they must be of our own making.
pub fn html(document: &Document) -> String {
    let title = escaped(&document.title);
    let mut out = format!(
        "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{}\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n",
        escaped(&document.language),
        escaped(&policy())
    );
    if !document.subtitle.is_empty() {
        line(&mut out, "p class=\"below\"", &document.subtitle);
    }
    for block in &document.blocks {
        write_block(&mut out, block);
    }
    out + "</main>\n</body>\n</html>\n"
}

fn write_block(out: &mut String, block: &Block) {
    match block {
        Block::Heading(text) => line(out, "h2", text),
        Block::Subheading(text) => line(out, "h3", text),
        Block::Paragraph(text) => line(out, "p", text),
        Block::List(points) => {
            *out += "<ul>\n";
            for point in points {
                line(out, "li", point);
            }
            *out += "</ul>\n";
        }
        Block::Facts(facts) => {
            *out += "<dl>\n";
            for (name, said) in facts {
                line(out, "dt", name);
                line(out, "dd", said);
            }
            *out += "</dl>\n";
        }
        Block::Table(table) => write_table(out, table),
        Block::Figure(figure) => write_figure(out, figure),
        Block::Callout(title, texts) => {
            *out += "<div class=\"mind\">\n";
            let _ = writeln!(out, "<p><strong>{}</strong></p>", escaped(title));
            for text in texts {
                line(out, "p", text);
            }
            *out += "</div>\n";
        }
    }
}

/// An element with text; `opening` may have attributes.
fn line(out: &mut String, opening: &str, text: &str) {
    let name = opening.split(' ').next().unwrap_or(opening);
    let _ = writeln!(out, "<{opening}>{}</{name}>", escaped(text));
}

fn write_table(out: &mut String, table: &Table) {
    *out += "<table>\n<thead><tr>";
    for name in &table.header {
        let _ = write!(out, "<th scope=\"col\">{}</th>", escaped(name));
    }
    *out += "</tr></thead>\n<tbody>\n";
    for row in &table.rows {
        *out += "<tr>";
        for (at, name) in table.header.iter().enumerate() {
            let cell = row.get(at).map_or("", String::as_str);
            let _ = write!(out, "<td data-of=\"{}\">{}</td>", escaped(name), escaped(cell));
        }
        *out += "</tr>\n";
    }
    *out += "</tbody>\n</table>\n";
}

fn write_figure(out: &mut String, figure: &Figure) {
    let _ = writeln!(
        out,
        "<figure>\n<div class=\"drawn\" role=\"img\" aria-label=\"{}\">{}</div>\n<figcaption>{}</figcaption>\n</figure>",
        escaped(&figure.alternative),
        figure.svg,
        escaped(&figure.caption)
    );
}

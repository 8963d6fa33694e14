//! The frame that all documents share: title block, style sheet for paper, cautions.

use crate::issue::{Issue, Links, PaperFile};
use drycoil_pictures::{Appearance, Picture, PictureError, custom_properties};
use drycoil_units::UnitSystem;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::fmt::Write as _;

const STYLE: &str = include_str!("style.css");
const FONT: &str = "\"Helvetica Neue\",Helvetica,Arial,\"Liberation Sans\",sans-serif";

/// Which way the paper lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lie {
    Upright,
    Across,
}

/// A document of the set, by name and title.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Entry {
    pub name: String,
    pub title: String,
}

/// The pictures of one document: each is drawn once, and what cannot be drawn is said.
#[derive(Debug, Default)]
pub(crate) struct Figures {
    not_drawn: Vec<String>,
}

impl Figures {
    /// A figure with its caption, or the reason why there is none.
    pub fn figure(&mut self, picture: Result<Picture, PictureError>, caption: &str) -> Markup {
        match picture {
            Ok(picture) => html! {
                figure {
                    (PreEscaped(picture.svg()))
                    @if !caption.is_empty() { figcaption { (caption) } }
                }
            },
            Err(error) => {
                let text = format!("a picture cannot be drawn: {error}");
                let said = html! { p.alarm { (text) } };
                self.not_drawn.push(text);
                said
            }
        }
    }
}

impl Figures {
    /// Takes over what another part of the document could not draw; shows nothing.
    pub fn join(&mut self, mut other: Self) -> Markup {
        self.not_drawn.append(&mut other.not_drawn);
        html! {}
    }
}

/// A text as a string of a style sheet.
fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        // A backslash with the code, then a space that belongs to it.
        if c.is_alphanumeric() || " .,:()-_".contains(c) {
            out.push(c);
        } else {
            let _ = write!(out, "\\{:x} ", u32::from(c));
        }
    }
    out.push('"');
    out
}

fn style(issue: &Issue<'_>, title: &str, lie: Lie, frame: Frame) -> String {
    let d = issue.document;
    let (page, width) = match lie {
        Lie::Upright => (issue.paper.word().to_owned(), "8.5in"),
        Lie::Across => (format!("{} landscape", issue.paper.word()), "11.5in"),
    };
    let left = format!("{}, revision {}", d.project, d.revision);
    let foot = format!("drycoil {}, input {}: design aid for a licensed engineer", d.program, d.fingerprint);
    STYLE
        .replace("PROPERTIES", &custom_properties(Appearance::Light))
        .replace("RUNNING_LEFT", &css_string(&left))
        .replace("RUNNING_RIGHT", &css_string(title))
        .replace("FOOT_LEFT", &css_string(&foot))
        .replace("TOP", if frame == Frame::OnePage { ".6in" } else { ".8in" })
        .replace("BOTTOM", if frame == Frame::OnePage { ".55in" } else { ".75in" })
        .replace("PAGE", &page)
        .replace("WIDTH", width)
        .replace("FONT", FONT)
}

/// How much stands above and below the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Frame {
    /// Title block with editions, cautions in full.
    Full,
    /// Both in a few lines: the document is one page.
    OnePage,
}

/// A document that is being finished.
pub(crate) struct Paper<'a> {
    pub issue: &'a Issue<'a>,
    pub set: &'a [Entry],
    pub name: &'a str,
    pub lie: Lie,
    pub frame: Frame,
    /// Class of the main part.
    pub class: &'static str,
}

impl Paper<'_> {
    /// The finished document.
    pub fn finish(&self, body: &Markup, figures: Figures) -> PaperFile {
        let issue = self.issue;
        let d = issue.document;
        let title = self
            .set
            .iter()
            .find(|e| e.name == self.name)
            .map_or_else(|| self.name.to_owned(), |e| e.title.clone());
        let linked = issue.links == Links::BetweenFiles;
        let html = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="generator" content={ "drycoil " (d.program) };
                    title { (title) ": " (d.project) }
                    style { (PreEscaped(style(issue, &title, self.lie, self.frame))) }
                }
                body.one-page[self.frame == Frame::OnePage] {
                    a.skip href="#content" { "Skip to the content" }
                    header {
                        p.job { (d.project) ", revision " (d.revision) }
                        h1 { (title) }
                        @if self.frame == Frame::Full { (title_block(issue)) }
                        @if linked {
                            nav.set aria-label="Papers of this set" {
                                ul {
                                    @for e in self.set {
                                        li {
                                            @if e.name == self.name { strong aria-current="page" { (e.title) } }
                                            @else { a href={ (e.name) ".html" } { (e.title) } }
                                        }
                                    }
                                }
                            }
                        }
                    }
                    main id="content" class=(self.class) { (body) }
                    footer {
                        @match self.frame {
                            Frame::Full => {
                                h2 { "Cautions" }
                                ul { @for c in &d.cautions { li { (c) } } }
                            }
                            Frame::OnePage => p.note {
                                @for c in d.cautions.iter().take(3) { (c) " " }
                                "Input " (d.fingerprint) ", drycoil " (d.program) "."
                            }
                        }
                    }
                }
            }
        }
        .into_string();
        PaperFile { name: self.name.to_owned(), title, html, not_drawn: figures.not_drawn }
    }
}

fn title_block(issue: &Issue<'_>) -> Markup {
    let d = issue.document;
    html! {
        dl.facts.title-block {
            dt { "Project" } dd { (d.project) ", " (issue.design.site.place) }
            dt { "Revision" } dd { (d.revision) }
            dt { "Input fingerprint" } dd { (d.fingerprint) }
            dt { "Program" } dd { "drycoil " (d.program) }
            dt { "Units" } dd {
                @match issue.system {
                    UnitSystem::Si => "SI; air flows are standard air (1.2014 kg of dry air per m3) unless a title says actual",
                    UnitSystem::Ip => "inch-pound; air flows are standard air (0.075 lb of dry air per ft3) unless a title says actual",
                }
            }
            @if !d.editions.is_empty() {
                dt { "Editions" } dd { (d.editions.join("; ")) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_leave_the_string_of_the_style_sheet() {
        let text = css_string("Hall \"A\"\\</style>\n{}");
        assert_eq!(text, "\"Hall \\22 A\\22 \\5c \\3c \\2f style\\3e \\a \\7b \\7d \"");
        assert!(text.trim_matches('"').chars().all(|c| !"\"<>{}\n".contains(c)));
    }
}

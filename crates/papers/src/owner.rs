//! The owner's page: one page, plain words, four pictures.

mod sentences;

pub use sentences::{OwnerSection, owner_sections};

use crate::issue::{Issue, PaperFile};
use crate::numbers::{Numbers, held};
use crate::pictures;
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use drycoil_pictures::{Options, PictureWidth};
use maud::html;

pub(crate) const NAME: &str = "owners-page";

pub(crate) fn document(issue: &Issue<'_>, set: &[Entry]) -> PaperFile {
    let (project, design, system) = (issue.project, issue.design, issue.system);
    let options = |id: &str| Options::new(system, id).width(PictureWidth::Narrow);
    let mut figures = Figures::default();
    let sections = match &issue.year {
        Some(parts) => {
            owner_sections(project, design, parts, Numbers { system, currency: &parts.economy.currency })
        }
        None => sentences::design_sections(project, design, Numbers { system, currency: "" }),
    };
    let of_year = issue.year.and_then(|parts| {
        Some([
            pictures::months(parts.year, &options("months"))?,
            pictures::carpet(project, parts.year, &options("carpet"))?,
            pictures::electric_duration(parts.year, &options("duration"))?,
        ])
    });
    // Two columns of two, each as tall as it is.
    let margins = pictures::margins(project, design, &options("margins"));
    let (left, right) = match of_year {
        Some([months, carpet, duration]) => (vec![margins, duration], vec![carpet, months]),
        None => (
            vec![margins, pictures::trade_off(design, &options("trade-off"))],
            [pictures::chart(project, design, &options("chart"))]
                .into_iter()
                .chain(pictures::water(project, design, &options("water-loop")))
                .collect(),
        ),
    };
    let body = html! {
        div.text {
            @for (title, text) in &sections { div { h2 { (title) } p { (held(&text.join(" "))) } } }
        }
        div.four { @for column in [left, right] { div { @for picture in column { (figures.figure(picture, "")) } } } }
    };
    let paper = Paper { issue, set, name: NAME, lie: Lie::Upright, frame: Frame::OnePage, class: "owner" };
    paper.finish(&body, figures)
}

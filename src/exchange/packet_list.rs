//! The packets of a store on paper, place by place, to be ticked off box by box.

use super::field_sheets::PrintedSheet;
use super::print::{
    Cell, Column, Flow, Fonts, FormItem, LAID_OUT, Laid, Paper, PrintFault, PrintSettings, Table, Watch,
    Weight, Width, tell,
};
use crate::insight::{packet_line, rule_of_100};
use crate::model::{Packet, PacketId, Project, StoreId, plural};

/// Prints packets as PDF, in the order in which they are given; those of one place are to stand together. The same
/// project gives the same bytes.
///
/// # Errors
/// The PDF writer refuses; whoever watches says stop.
pub fn packet_list_pdf(
    project: &Project,
    packets: &[PacketId],
    paper: Paper,
    watch: Watch<'_>,
) -> Result<PrintedSheet, PrintFault> {
    let fonts = Fonts::new()?;
    let laid = packet_list_pages(&fonts, project, packets, paper, watch)?;
    PrintedSheet::new(&fonts, &laid, packets.len(), watch)
}

/// Lays that list out.
///
/// # Errors
/// Whoever watches says stop.
pub fn packet_list_pages(
    fonts: &Fonts,
    project: &Project,
    packets: &[PacketId],
    paper: Paper,
    watch: Watch<'_>,
) -> Result<Laid, PrintFault> {
    let settings = PrintSettings {
        head: format!("Packets in store \u{b7} {}", project.about.name),
        ..PrintSettings::new(paper, format!("{}: packets in store", project.about.name))
    };
    let mut flow = Flow::new(fonts, &settings);
    flow.text("Packets in store", 20.0, Weight::Bold);
    flow.text(&project.about.name, 11.0, Weight::Regular);
    flow.text(&opening(project, packets.len()), 10.0, Weight::Regular);
    flow.running("Packets in store, continued", &[]);
    tell(watch, 0.0)?;
    let known: Vec<&Packet> = packets.iter().filter_map(|id| project.packets.get(*id)).collect();
    for of_place in known.chunk_by(|one, next| one.store == next.store) {
        let Some(first) = of_place.first() else { continue };
        flow.space(8.0);
        let (name, sentence) = place(project, first.store);
        flow.text(&name, 14.0, Weight::Bold);
        flow.text(&sentence, 9.0, Weight::Regular);
        flow.space(3.0);
        flow.table(&Table {
            columns: vec![
                Column::text("There", Width::Fit),
                Column::text("Box and slot", Width::Points(96.0)).set_in(11.0, Weight::Bold),
                Column::number("Ear", Width::Fit).set_in(14.0, Weight::Bold),
                Column::text("Ear code", Width::Fit),
                Column::number("Harvested", Width::Fit),
                Column::number("Kernels", Width::Fit),
                Column::number("Moisture %", Width::Fit),
                Column::text("Last test", Width::Share(1.0)).set_in(9.0, Weight::Regular),
            ],
            rows: of_place.iter().map(|packet| fields(project, packet)).collect(),
            least_height: 20.0,
            ..Table::default()
        });
    }
    flow.space(8.0);
    flow.form_line(&["Looked through by", "on"].map(|what| FormItem::Blank(what.to_owned())));
    tell(watch, LAID_OUT)?;
    Ok(Laid {
        settings,
        pages: flow.into_pages(),
    })
}

fn opening(project: &Project, packets: usize) -> String {
    let year = project.latest_season().map_or(0, |season| season.year);
    if packets == 0 {
        return "No packet holds kernels.".to_owned();
    }
    format!(
        "{} with kernels, as the project knows them; season {year} is the latest. Tick each that is there. Home tests, not for labelling seed.",
        plural(packets, "packet")
    )
}

fn place(project: &Project, store: Option<StoreId>) -> (String, String) {
    match store.and_then(|id| project.stores.get(id)) {
        Some(store) => {
            let (_, sentence) = rule_of_100(store.temperature_c, store.humidity_percent);
            let note = if store.note.is_empty() {
                String::new()
            } else {
                format!(" {}", store.note)
            };
            (store.name.clone(), format!("{sentence}{note}"))
        }
        None => (
            "No place noted".to_owned(),
            "Of these packets nobody said where they are kept.".to_owned(),
        ),
    }
}

fn fields(project: &Project, packet: &Packet) -> Vec<Cell> {
    let none = || "\u{2013}".to_owned();
    let line = packet_line(project, packet.id);
    let code = project.ears.get(packet.ear).map(|ear| ear.code.to_string());
    let slot = if packet.location.is_empty() {
        none()
    } else {
        packet.location.clone()
    };
    vec![
        Cell::TickBox,
        Cell::from(slot),
        Cell::from(line.as_ref().map_or_else(none, |line| line.number.to_string())),
        Cell::from(code.unwrap_or_else(none)),
        Cell::from(line.as_ref().map_or_else(none, |line| line.year.to_string())),
        Cell::from(packet.balance().map_or_else(none, |kernels| kernels.to_string())),
        Cell::from(
            packet
                .moisture_percent
                .map_or_else(none, |percent| percent.to_string()),
        ),
        Cell::from(
            line.and_then(|line| line.last)
                .map_or_else(|| "never tested".to_owned(), |last| last.text()),
        ),
    ]
}

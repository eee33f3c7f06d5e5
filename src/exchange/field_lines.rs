//! The rows of a frozen list as prints name them: by its field plan where there is one, else in the list's order.

use crate::model::{FieldContent, FieldWay, PlantingList, Project};

/// A row as it is printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct FieldLine {
    /// The number on its stake.
    pub(super) stake: u32,
    /// The ear's number, `check` or `bulk`.
    pub(super) name: String,
    /// The ear's code; empty for other rows.
    pub(super) code: String,
    /// Where the ear's packets lie; empty for other rows.
    pub(super) place: String,
    /// Kernels to plant.
    pub(super) kernels: u32,
    /// Whether its tassels are pulled.
    pub(super) detasselled: bool,
}

/// The rows of a list, and how they are ordered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct FieldLines {
    /// The rows.
    pub(super) rows: Vec<FieldLine>,
    /// How they are ordered, in a sentence.
    pub(super) order: &'static str,
    /// Whether all ears are mixed into one bulk.
    pub(super) is_bulk: bool,
}

/// Gives the rows of a list.
pub(super) fn field_lines(project: &Project, list: &PlantingList) -> FieldLines {
    let Some(plan) = project.plan_of(list.id) else {
        return FieldLines {
            rows: of_list(project, list),
            order: "The rows stand in the order of the planting list: row 1 is its first ear.",
            is_bulk: false,
        };
    };
    let rows = project.field_rows_of(plan.id).map(|row| {
        let ear = row.content.ear().and_then(|ear| project.ears.get(ear));
        FieldLine {
            stake: row.stake,
            name: match (row.content, ear) {
                (FieldContent::Check, _) => "check".to_owned(),
                (FieldContent::Bulk, _) => "bulk".to_owned(),
                (FieldContent::Ear(id), None) => format!("id {id}"),
                (FieldContent::Ear(_), Some(ear)) => ear.number.to_string(),
            },
            code: ear.map(|ear| ear.code.to_string()).unwrap_or_default(),
            place: ear.map_or_else(String::new, |ear| packet_places(project, ear.id)),
            kernels: row.kernels,
            detasselled: row.detasselled,
        }
    });
    FieldLines {
        rows: rows.collect(),
        order: "The rows stand in walking order, by the field plan.",
        is_bulk: plan.shape.way == FieldWay::Bulk,
    }
}

/// The ears of a list as rows in its order.
pub(super) fn of_list(project: &Project, list: &PlantingList) -> Vec<FieldLine> {
    (1..)
        .zip(&list.entries)
        .map(|(stake, entry)| FieldLine {
            stake,
            name: entry.number.to_string(),
            code: entry.code.to_string(),
            place: packet_places(project, entry.ear),
            kernels: entry.plant,
            detasselled: false,
        })
        .collect()
}

/// Where an ear's packets lie.
pub(super) fn packet_places(project: &Project, ear: crate::model::EarId) -> String {
    let places: Vec<&str> = project
        .packets_of(ear)
        .map(|packet| match packet.location.as_str() {
            "" => "place not noted",
            place => place,
        })
        .collect();
    if places.is_empty() {
        "no packet".to_owned()
    } else {
        places.join("; ")
    }
}

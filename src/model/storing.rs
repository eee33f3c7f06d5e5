//! Putting packets into places, and noting how moist their seed is.

use super::change::{Change, Transaction};
use super::command::find;
use super::ids::{PacketId, StoreId};
use super::packet::Packet;
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::store_place::StorePlace;
use super::words::plural;
use jiff::civil::Date;

/// Adds a place; its id is given by the project.
pub(super) fn add(project: &Project, store: &StorePlace) -> Transaction {
    let store = StorePlace {
        id: StoreId(project.stores.next_number()),
        name: store.name.trim().to_owned(),
        ..store.clone()
    };
    let label = format!("Add storage place {}", store.name);
    Transaction::new(label, vec![Change::add(store)])
}

/// Changes a place; its id says which.
pub(super) fn edit(project: &Project, store: &StorePlace) -> Result<Transaction, Problem> {
    let before = find(&project.stores, store.id)?;
    let after = StorePlace {
        name: store.name.trim().to_owned(),
        ..store.clone()
    };
    let label = format!("Change storage place {}", before.name);
    Ok(Transaction::new(label, vec![Change::replace(before, after)]))
}

/// Removes a place in which no packet lies.
pub(super) fn remove(project: &Project, store: StoreId) -> Result<Transaction, Problem> {
    let store = find(&project.stores, store)?;
    let label = format!("Remove storage place {}", store.name);
    Ok(Transaction::new(label, vec![Change::remove(store)]))
}

/// Moves packets to a place, or says that it is not known where they are.
pub(super) fn put(
    project: &Project,
    packets: &[PacketId],
    store: Option<StoreId>,
) -> Result<Transaction, Problem> {
    let to = match store {
        Some(store) => format!("to {}", find(&project.stores, store)?.name),
        None => "to no known place".to_owned(),
    };
    let changes = change_packets(project, packets, |packet| packet.store = store)?;
    let label = format!("Move {} {to}", plural(changes.len(), "packet"));
    Ok(Transaction::new(label, changes))
}

/// Notes the moisture of the seed in packets; none takes the note back.
pub(super) fn note_moisture(
    project: &Project,
    packets: &[PacketId],
    percent: Option<f64>,
    on: Option<Date>,
) -> Result<Transaction, Problem> {
    let changes = change_packets(project, packets, |packet| {
        packet.moisture_percent = percent;
        packet.moisture_on = on.filter(|_| percent.is_some());
    })?;
    let what = percent.map_or_else(|| "as not known".to_owned(), |percent| format!("as {percent} %"));
    let label = format!("Note the moisture of {} {what}", plural(changes.len(), "packet"));
    Ok(Transaction::new(label, changes))
}

/// Changes packets, and refuses where nothing would be another than before.
fn change_packets(
    project: &Project,
    packets: &[PacketId],
    change: impl Fn(&mut Packet),
) -> Result<Vec<Change>, Problem> {
    let mut changes = Vec::new();
    for id in packets {
        let before = find(&project.packets, *id)?;
        let mut after = before.clone();
        change(&mut after);
        if after != *before {
            changes.push(Change::replace(before, after));
        }
    }
    if changes.is_empty() {
        let text = "no packet would change by this, so nothing was done; choose other packets".to_owned();
        let place = packets.first().map_or(Place::Project, |id| Place::Packet(*id));
        return Err(Problem::new(place, Fault::Mismatch(text)));
    }
    Ok(changes)
}

//! The part of `summary` that says how many kernels of each kept ear are planted.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{ShareFigures, Shares};

/// Keys carry their units. What cannot be told is null.
#[derive(Debug, Serialize)]
pub(super) struct SharesFacts {
    sentences: Vec<String>,
    taken_for_granted: Option<String>,
    refusal: Option<String>,
    kernels: u32,
    most_coancestry: Option<f64>,
    equal: Option<WayFacts>,
    shared_out: Option<WayFacts>,
    ears: Vec<EarFacts>,
}

/// One way to share kernels out.
#[derive(Debug, Serialize)]
struct WayFacts {
    likely_percent: f64,
    coancestry: f64,
    effective_size: Option<f64>,
}

/// The kernels of one ear.
#[derive(Debug, Serialize)]
struct EarFacts {
    number: u32,
    most_kernels: u32,
    equal_kernels: u32,
    shared_out_kernels: Option<u32>,
}

impl SharesFacts {
    pub(super) fn new(shares: &Shares) -> Self {
        let way = |one: ShareFigures| WayFacts {
            likely_percent: one.likely_percent,
            coancestry: one.coancestry,
            effective_size: shares.effective_size(one.coancestry),
        };
        Self {
            sentences: shares.sentences(),
            taken_for_granted: shares.equal.map(|_| shares.assumptions()),
            refusal: shares.refusal.clone(),
            kernels: shares.kernels,
            most_coancestry: shares.most_coancestry,
            equal: shares.equal.map(way),
            shared_out: shares.shared.map(way),
            ears: shares
                .ears
                .iter()
                .map(|one| EarFacts {
                    number: one.number,
                    most_kernels: one.most,
                    equal_kernels: one.equal,
                    shared_out_kernels: one.shared,
                })
                .collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "\nKernels of each ear")?;
        let said = self
            .sentences
            .iter()
            .chain(&self.refusal)
            .chain(&self.taken_for_granted);
        for sentence in said {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }
}

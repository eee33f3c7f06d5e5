//! What the panes show: views derived from a document, cached by revision. Pure.

/// Views derived from a document.
#[derive(Debug, Default)]
pub struct Insight;

//! What the panes show: views derived from a document, cached by revision. Pure.

//! One named worker thread with progress and cancellation.

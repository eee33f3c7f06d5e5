//! What statistics refuses at its entrance.

/// Input that no figure can be computed from: what it was, and what to do.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum StatsFault {
    /// More successes than trials.
    #[error("{k} of {n} cannot be: a count is never above its total. Correct one of the two numbers.")]
    CountAboveTotal {
        /// Successes given.
        k: u32,
        /// Trials given.
        n: u32,
    },
    /// More trials in one unit than [`super::interval::MOST_TRIALS`].
    #[error(
        "a total of {n} in one unit is more than {most} and is surely a slip. Correct it.",
        most = super::interval::MOST_TRIALS
    )]
    TotalTooLarge {
        /// Trials given.
        n: u32,
    },
    /// A confidence that is not strictly between 0 and 1.
    #[error("a confidence of {level} cannot be used. Give a number between 0 and 1, such as 0.95.")]
    Confidence {
        /// Level given.
        level: f64,
    },
    /// A cutoff that is not a percent from 0 to 100.
    #[error("a cutoff of {percent} % cannot be used. Give a percent from 0 to 100.")]
    Cutoff {
        /// Percent given.
        percent: f64,
    },
    /// Prior parameters that are not both from a billionth to a million.
    #[error("a prior of ({alpha}, {beta}) cannot be used. Give two numbers from 1e-9 to 1e6.")]
    Prior {
        /// First parameter given.
        alpha: f64,
        /// Second parameter given.
        beta: f64,
    },
    /// A sample of a series that is earlier than the one before it, or not finite.
    #[error(
        "sample {number} of a series is earlier than the one before it, or is not a number. Correct or remove it."
    )]
    Sample {
        /// Which sample, from 1.
        number: usize,
    },
}

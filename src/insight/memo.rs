//! Remembering what was computed.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::sync::Arc;

/// How many results one [`Memo`] keeps: enough for the same view in two panes, for a cutoff that is being
/// dragged and the one that is set, and for one season back.
const KEPT: usize = 4;

/// The last few results of one computation, each with the key it was computed for.
///
/// The key holds everything that the computation reads: revisions and parameters. A result is used again only
/// for an equal key, so nothing ever has to be declared out of date.
#[derive(Debug)]
pub struct Memo<K, V> {
    kept: RefCell<Vec<(K, Arc<V>)>>,
    computed: Cell<u64>,
}

impl<K, V> Default for Memo<K, V> {
    fn default() -> Self {
        Self {
            kept: RefCell::new(Vec::new()),
            computed: Cell::new(0),
        }
    }
}

impl<K: PartialEq, V> Memo<K, V> {
    /// Gives the result for the key, computing it unless it is remembered. The result used longest ago is
    /// forgotten.
    pub fn get(&self, key: K, compute: impl FnOnce() -> V) -> Arc<V> {
        self.get_by(key, |_| compute())
    }

    /// [`Memo::get`] with the key given to the computation, for a key that is costly to make twice.
    pub fn get_by(&self, key: K, compute: impl FnOnce(&K) -> V) -> Arc<V> {
        if let Some(found) = self.find(&key) {
            return found;
        }
        let value = Arc::new(compute(&key));
        self.computed.set(self.computed.get() + 1);
        let mut kept = self.kept.borrow_mut();
        kept.truncate(KEPT - 1);
        kept.insert(0, (key, Arc::clone(&value)));
        value
    }

    fn find(&self, key: &K) -> Option<Arc<V>> {
        let mut kept = self.kept.borrow_mut();
        let at = kept.iter().position(|(known, _)| known == key)?;
        kept[..=at].rotate_right(1);
        Some(Arc::clone(&kept[0].1))
    }

    /// Says how often something was computed and not just remembered.
    pub fn computed(&self) -> u64 {
        self.computed.get()
    }
}

/// The last result of one computation for each of many things, such as trays, with the key it was computed for: a
/// [`Memo`] where a change of one of them leaves the results of all others.
#[derive(Debug)]
pub(super) struct MemoOf<I, K, V> {
    kept: RefCell<BTreeMap<I, (K, Arc<V>)>>,
    computed: Cell<u64>,
}

impl<I, K, V> Default for MemoOf<I, K, V> {
    fn default() -> Self {
        Self {
            kept: RefCell::new(BTreeMap::new()),
            computed: Cell::new(0),
        }
    }
}

impl<I: Ord, K: PartialEq, V> MemoOf<I, K, V> {
    /// Gives the result of one thing for the key, computing it unless it is remembered.
    pub(super) fn get(&self, of: I, key: K, compute: impl FnOnce(&K) -> V) -> Arc<V> {
        if let Some((known, value)) = self.kept.borrow().get(&of)
            && *known == key
        {
            return Arc::clone(value);
        }
        let value = Arc::new(compute(&key));
        self.computed.set(self.computed.get() + 1);
        self.kept.borrow_mut().insert(of, (key, Arc::clone(&value)));
        value
    }

    /// Says how often something was computed and not just remembered.
    #[cfg(test)]
    pub(super) fn computed(&self) -> u64 {
        self.computed.get()
    }
}

#[cfg(test)]
mod tests {
    use super::{Memo, MemoOf};

    #[test]
    fn each_thing_is_computed_again_for_its_own_key_only() {
        let memo = MemoOf::default();
        for (of, key) in [('a', 1), ('b', 1), ('a', 1), ('b', 2), ('a', 1), ('b', 1)] {
            assert_eq!(*memo.get(of, key, |key| (of, key * 10)), (of, key * 10));
        }
        // For b the key went from 1 to 2 and back; only the last is kept.
        assert_eq!(memo.computed(), 4);
    }

    #[test]
    fn an_equal_key_is_not_computed_again_and_old_ones_are_forgotten() {
        let memo = Memo::default();
        for key in [1, 2, 1, 3, 4, 5, 1, 2] {
            assert_eq!(*memo.get(key, || key * 10), key * 10);
        }
        // 1 was used again before 5 pushed out the oldest; that was 2.
        assert_eq!(memo.computed(), 6);
    }
}

"""The numbers: folds over the events, each defined in ``shared/measures.toml``, and the hints that rest on them."""

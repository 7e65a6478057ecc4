"""Words into meaning: the lexicon, what an utterance does, and which pieces on the tray fit it."""

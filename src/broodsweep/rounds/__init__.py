"""Who drives where, when, in which order? Knows no disease models: it gets a worth per visit."""

"""Points of a study on any executor, each kept on disk as soon as it is done."""

"""One module for each thing a person does: load, ask the rules, append, say what happened or why not."""

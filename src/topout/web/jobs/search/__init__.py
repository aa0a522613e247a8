"""Found again: one box over riders, bikes, units, parts, tags, jobs and the words of their notes."""

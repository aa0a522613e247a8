"""The Book: riders, bikes, units and families. Names, addresses and telephones stand only here."""

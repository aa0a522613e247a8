"""What is not known exactly: draws, limits of many weighted draws, and whose doubt an answer's doubt is."""

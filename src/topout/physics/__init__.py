"""The models: numpy only, arrays in, arrays out."""

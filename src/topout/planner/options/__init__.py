"""The search: what may be fitted and set so that a bike sits, steers and springs as it did; what it costs; what it gives up."""

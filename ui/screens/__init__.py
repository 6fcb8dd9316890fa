"""The pages of the app, one module each with a ``show`` function."""

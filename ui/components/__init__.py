"""Parts of the page that more than one screen may use."""

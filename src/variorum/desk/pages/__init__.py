"""One module for each page: what it shows is looked up here and set in a template."""

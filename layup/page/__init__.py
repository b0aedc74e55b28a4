"""The bench on a tablet: a server beside the app or alone, and the page's own HTML, CSS and script."""

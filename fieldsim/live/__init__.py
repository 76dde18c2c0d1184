"""The page with sliders: a machine in the browser, answered by this computer alone."""

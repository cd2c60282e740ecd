"""The tool against print: published values and the checks that compute them."""

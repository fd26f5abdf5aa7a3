"""After installing: what three measured in-room responses say of the match, the placement and the promises."""

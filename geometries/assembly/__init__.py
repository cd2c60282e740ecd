"""From cores and windings to what is solved: sections and meshes."""

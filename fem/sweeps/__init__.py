"""Many designs: what varies, who computes, which rows to look at."""

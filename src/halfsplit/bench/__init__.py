"""The page on the tablet beside the work: the loop of a job with a drawing and big type. Every view calls `jobs`."""

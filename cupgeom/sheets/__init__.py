"""Many pieces on little media: packing by true shape, the sheets as documents, and the order list."""

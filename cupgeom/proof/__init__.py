"""What the customer sees before the work begins: pictures of the finished cup, its mesh, and the mark of a proof."""

"""What the worked examples and the bench call: exercises, hand checks, pictures and the demo's outlines."""

"""What the wires do: strung, through the year, let down; and what the posts bear of them."""

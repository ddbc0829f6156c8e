"""The slider and the chart that redraw in place, and the palette."""

package report

import (
	"time"

	"withy/steambox/measure"
)

// PictureSVG is what WritePNG paints, as SVG.
func (r *Report) PictureSVG(at *time.Location, u measure.Units) string {
	local := *r
	local.Began, local.units = r.Began.In(at), u
	return local.page().picture().svg()
}

// How a picture lies on its pixels.
const (
	PictureWide   = pictureWide
	PictureMargin = pictureMargin
	DrawingWide   = drawingWide
)

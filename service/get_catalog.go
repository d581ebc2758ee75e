package service

import (
	"context"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// GetCatalog returns every measure, event and cue with its definition.
func (s *Server) GetCatalog(_ context.Context, req *pb.GetCatalogRequest) (*pb.GetCatalogResponse, error) {
	res := &pb.GetCatalogResponse{}
	for _, r := range measure.Catalog() {
		res.Measures = append(res.Measures, &pb.GetCatalogResponse_MeasureDefinition{
			Name: r.Name, Title: r.Title, Definition: r.Definition, Unit: r.Unit, Strokes: strokes(r.Strokes),
			Source: r.Source, PromisedSd: r.PromisedSD, OneCameraViews: views(r.Views),
		})
	}
	for _, d := range phase.Catalog() {
		res.Events = append(res.Events, &pb.GetCatalogResponse_EventDefinition{
			Kind: pb.EventKind(d.Kind), Title: d.Title, Definition: d.Definition, Strokes: strokes(d.Strokes), Source: d.Source,
		})
	}
	for _, d := range s.config.Book.Definitions(req.GetLocale()) {
		res.Cues = append(res.Cues, &pb.GetCatalogResponse_CueDefinition{
			Name: d.Name, Kind: pb.CueKind(d.Kind), Text: d.Text, Drill: d.Drill, Strokes: strokes(d.Strokes),
			Condition: d.Condition, Source: d.Source,
		})
	}
	return res, nil
}

func strokes(list []body.Stroke) []pb.Stroke {
	var out []pb.Stroke
	for _, s := range list {
		out = append(out, pb.Stroke(s))
	}
	return out
}

func views(list []camera.Viewpoint) []pb.Viewpoint {
	var out []pb.Viewpoint
	for _, v := range list {
		out = append(out, pb.Viewpoint(v))
	}
	return out
}

package main

import (
	"context"
	"fmt"
	"text/tabwriter"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
)

type catalogCmd struct {
	JSON   bool   `name:"json" help:"Print JSON."`
	Locale string `default:"en" help:"Language of cues (BCP 47)."`
}

// Run prints the catalog.
func (cmd *catalogCmd) Run(ctx context.Context, c *console) error {
	srv, err := newService()
	if err != nil {
		return err
	}
	res, err := srv.GetCatalog(ctx, &pb.GetCatalogRequest{Locale: cmd.Locale})
	if err != nil {
		return err
	}
	if cmd.JSON {
		raw, err := protojson.Marshal(res)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(c.out, "%s\n", raw)
		return err
	}
	return catalogText(c, res)
}

func catalogText(c *console, res *pb.GetCatalogResponse) error {
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "events (%d)\n", len(res.Events))
	for _, e := range res.Events {
		fmt.Fprintf(w, "  %s\t%s\n", spaced(e.Kind.String(), "EVENT_KIND_"), e.Definition)
	}
	fmt.Fprintf(w, "\nmeasures (%d)\n", len(res.Measures))
	for _, m := range res.Measures {
		fmt.Fprintf(w, "  %s\t%s\t%s\n", m.Name, m.Unit, m.Definition)
	}
	fmt.Fprintf(w, "\ncues (%d)\n", len(res.Cues))
	for _, q := range res.Cues {
		fmt.Fprintf(w, "  %s\t%s\t%s\n", q.Name, spaced(q.Kind.String(), "CUE_KIND_"), q.Text)
	}
	return w.Flush()
}

package cli

import (
	"fmt"
	"path/filepath"
	"strings"

	"barwise"
	"barwise/job"
)

type planCmd struct {
	Job        string `arg:"" help:"The job file."`
	Model      string `help:"Use this mesh instead of the job's." placeholder:"FILE"`
	Out        string `help:"Folder for the result; beside the job file, under its name, where not given." placeholder:"DIR"`
	Overwrite  bool   `help:"Replace programs that were edited since they were written."`
	NoPictures bool   `help:"Leave out the pictures: for a quick look."`
	JSON       bool   `name:"json" help:"Print report.json instead of words."`
}

func (c *planCmd) Run(e *env) error {
	j, err := job.Load(c.Job, job.Options{Model: c.Model})
	if err != nil {
		return err
	}
	dir := c.Out
	if dir == "" {
		dir = strings.TrimSuffix(c.Job, filepath.Ext(c.Job))
	}
	if err := barwise.Writable(dir, c.Overwrite); err != nil {
		return err
	}
	o, err := barwise.Plan(e.ctx, j, barwise.Options{Say: e.talk.progress, NoPictures: c.NoPictures})
	if err != nil {
		return err
	}
	if err := o.Write(e.ctx, dir, c.Overwrite); err != nil {
		return err
	}
	return e.answer(o, dir, c.JSON)
}

// answer prints what came out, and ends with errFindings where something stands against cutting.
func (e *env) answer(o *barwise.Outcome, dir string, asJSON bool) error {
	e.talk.clear()
	if asJSON {
		if err := o.Facts.WriteJSON(e.out); err != nil {
			return err
		}
	} else if err := summary(e.out, o.Facts, dir); err != nil {
		return err
	}
	if o.Blocked() {
		return errFindings
	}
	return nil
}

type proveCmd struct {
	Job        string   `arg:"" help:"The job file."`
	Programs   []string `arg:"" help:"Program texts, in the order they are run."`
	Model      string   `help:"Use this mesh instead of the job's." placeholder:"FILE"`
	Out        string   `help:"Also write the report into this folder." placeholder:"DIR"`
	NoPictures bool     `help:"Leave the pictures out of the report."`
	JSON       bool     `name:"json" help:"Print report.json instead of words."`
}

func (c *proveCmd) Run(e *env) error {
	j, err := job.Load(c.Job, job.Options{Model: c.Model})
	if err != nil {
		return err
	}
	texts, err := barwise.ReadTexts(c.Programs)
	if err != nil {
		return err
	}
	o, err := barwise.Prove(e.ctx, j, texts, barwise.Options{Say: e.talk.progress, NoPictures: c.NoPictures || c.Out == ""})
	if err != nil {
		return err
	}
	if c.Out != "" {
		o.Texts = nil // they are the user's and stay where they are
		if err := o.Write(e.ctx, c.Out, true); err != nil {
			return err
		}
	}
	return e.answer(o, c.Out, c.JSON)
}

type schemaCmd struct{}

func (schemaCmd) Run(e *env) error {
	_, err := fmt.Fprintf(e.out, "%s\n", job.Schema())
	return err
}

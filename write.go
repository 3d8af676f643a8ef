package barwise

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image/png"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"barwise/finding"
	"barwise/report"
)

// sumsFile lists the checksum of every program as it was written, so that one edited since is known.
const sumsFile = "programs/sums.json"

// ours is what a run puts into its folder, in the order it is put there: the pages last, so that a
// page never speaks of programs that are not there.
var ours = []string{"programs", "pictures", mendedFile, surveyJSON, surveyHTML, "report.json", "report.html"}

// Writable checks, before any work is done, that a result can be put into dir: that the folder can be
// made or written, and that no program in it was edited since it was written (unless overwrite).
func Writable(dir string, overwrite bool) error {
	if st, err := os.Stat(dir); err == nil && !st.IsDir() {
		return finding.Bad("out-not-folder", dir, "is a file, a folder is needed for the result", "name another with --out")
	}
	if !overwrite {
		edited, err := editedPrograms(dir)
		if err != nil {
			return err
		}
		if len(edited) > 0 {
			return finding.Bad("out-edited", dir, strings.Join(edited, ", "),
				"keep it elsewhere, write to another folder with --out, or give --overwrite")
		}
	}
	tmp, err := stagingFolder(dir)
	if err != nil {
		return err
	}
	return os.RemoveAll(tmp)
}

// stagingFolder makes a folder whose name shows that it is unfinished: in dir or, where dir is not there
// yet, in the nearest folder above that is. So it lies on the disk that dir is on or will be on, and
// nothing else is made.
func stagingFolder(dir string) (string, error) {
	in := filepath.Clean(dir)
	for up := filepath.Dir(in); up != in && notThere(in); up = filepath.Dir(in) {
		in = up
	}
	tmp, err := os.MkdirTemp(in, "."+filepath.Base(dir)+".unfinished-")
	if err != nil {
		return "", cannotWrite(dir, err)
	}
	return tmp, os.Chmod(tmp, 0o755)
}

func notThere(name string) bool {
	_, err := os.Stat(name)
	return errors.Is(err, fs.ErrNotExist)
}

func cannotWrite(dir string, err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return fmt.Errorf("%s: the result cannot be written: %w; nothing was changed, free some room or name another folder with --out", dir, err)
}

// editedPrograms says, program by program, what in dir's programs was not left so by a former run.
func editedPrograms(dir string) ([]string, error) {
	there, err := os.ReadDir(filepath.Join(dir, "programs"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, cannotWrite(dir, err)
	}
	var sums map[string]string
	if b, err := os.ReadFile(filepath.Join(dir, sumsFile)); err == nil && json.Unmarshal(b, &sums) != nil {
		return []string{sumsFile + " was edited since it was written"}, nil
	}
	var edited []string
	for _, f := range there {
		name := "programs/" + f.Name()
		if name == sumsFile {
			continue
		}
		sum, ours := sums[f.Name()]
		if !ours {
			edited = append(edited, name+" was not written by a plan")
			continue
		}
		if text, err := os.ReadFile(filepath.Join(dir, name)); err != nil || checksum(text) != sum {
			edited = append(edited, name+" was edited since it was written")
		}
	}
	return edited, nil
}

func checksum(b []byte) string { s := sha256.Sum256(b); return hex.EncodeToString(s[:]) }

// Write puts the outcome into dir: everything is written into an unfinished folder first and renamed
// into place only when all of it is there. Files in dir that are not ours stay.
func (o *Outcome) Write(ctx context.Context, dir string, overwrite bool) error {
	if err := Writable(dir, overwrite); err != nil {
		return err
	}
	return put(ctx, dir, ours, func(tmp string) error { return o.writeInto(ctx, tmp) })
}

// put fills an unfinished folder and renames the named parts of it into dir, in their order.
func put(ctx context.Context, dir string, names []string, fill func(tmp string) error) error {
	tmp, err := stagingFolder(dir)
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	if err := fill(tmp); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return cannotWrite(dir, err)
	}
	if !notThere(dir) {
		return moveIntoPlace(tmp, dir, names)
	}
	err = os.MkdirAll(filepath.Dir(dir), 0o777)
	if err == nil {
		err = os.Rename(tmp, dir)
	}
	if err != nil {
		return cannotWrite(dir, err)
	}
	return nil
}

// moveIntoPlace replaces what a former run left. The old parts are put aside first and brought back
// where a rename fails. A part that is not made this time is removed, but for programs, which may only
// have been read.
func moveIntoPlace(tmp, dir string, names []string) (err error) {
	aside := filepath.Join(tmp, "former")
	if err := os.Mkdir(aside, 0o755); err != nil {
		return cannotWrite(dir, err)
	}
	var moved []string
	defer func() {
		if err == nil {
			return
		}
		for _, name := range moved {
			os.RemoveAll(filepath.Join(dir, name))
			if _, gone := os.Stat(filepath.Join(aside, name)); gone == nil {
				os.Rename(filepath.Join(aside, name), filepath.Join(dir, name))
			}
		}
	}()
	for _, name := range names {
		from := filepath.Join(tmp, name)
		if name == "programs" && notThere(from) {
			continue
		}
		moved = append(moved, name)
		to := filepath.Join(dir, name)
		if err := os.Rename(to, filepath.Join(aside, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			moved = moved[:len(moved)-1]
			return cannotWrite(dir, err)
		}
		if err := os.Rename(from, to); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return cannotWrite(dir, err)
		}
	}
	return nil
}

func (o *Outcome) writeInto(ctx context.Context, dir string) error {
	if len(o.Texts) > 0 {
		if err := os.Mkdir(filepath.Join(dir, "programs"), 0o755); err != nil {
			return err
		}
		sums := make(map[string]string, len(o.Texts))
		for _, t := range o.Texts {
			if err := writeSynced(filepath.Join(dir, "programs", t.Name), t.Data); err != nil {
				return err
			}
			sums[t.Name] = checksum(t.Data)
			if ctx.Err() != nil {
				return ctx.Err()
			}
		}
		b, err := json.MarshalIndent(sums, "", "  ")
		if err != nil {
			return err
		}
		if err := writeSynced(filepath.Join(dir, sumsFile), append(b, '\n')); err != nil {
			return err
		}
	}
	if o.Survey != nil {
		if err := o.Survey.writePages(dir); err != nil {
			return err
		}
	}
	if err := writePictures(ctx, filepath.Join(dir, "pictures"), o.Page.Pictures()); err != nil {
		return err
	}
	return writePages(dir, map[string]func(io.Writer) error{"report.json": o.Facts.WriteJSON, "report.html": o.Page.WriteHTML})
}

func writePictures(ctx context.Context, dir string, pics []report.Picture) error {
	if len(pics) == 0 {
		return nil
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		return err
	}
	for _, p := range pics {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		f, err := os.Create(filepath.Join(dir, p.Name))
		if err != nil {
			return err
		}
		err = png.Encode(f, p.Image)
		if err2 := f.Close(); err == nil {
			err = err2
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// writePages writes files and waits for the disk.
func writePages(dir string, pages map[string]func(io.Writer) error) error {
	for _, name := range slices.Sorted(maps.Keys(pages)) {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		err = pages[name](f)
		if err == nil {
			err = f.Sync()
		}
		if err2 := f.Close(); err == nil {
			err = err2
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// writeSynced writes a file and waits for the disk, so that a full disk is noticed here and not later.
func writeSynced(name string, data []byte) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err2 := f.Close(); err == nil {
		err = err2
	}
	return err
}

// Many fills a folder with very many jobs, for many.sh: what is the same in all of
// them is there once, the intake, with its serial number, and the form are each job's
// own. It is no part of the commands.
package main

import (
	"bytes"
	"errors"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"strconv"

	"shimcard/packet"
	"shimcard/packet/codes"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 3 {
		log.Fatal("many FOLDER JOBS")
	}
	count, err := strconv.Atoi(os.Args[2])
	if err == nil {
		err = fill(os.Args[1], count)
	}
	if err != nil {
		log.Fatal(err)
	}
}

func fill(root string, count int) error {
	demo := root + "-demo"
	demos, err := packet.MakeDemos(demo)
	if err != nil {
		return err
	}
	defer os.RemoveAll(demo)
	from := demos[0].Folder
	number := filepath.Base(from)
	intake, err0 := os.ReadFile(filepath.Join(from, packet.IntakeFile))
	typed, err1 := os.ReadFile(filepath.Join(from, packet.FormFile))
	job, err2 := packet.Open(from)
	if err := errors.Join(err0, err1, err2); err != nil {
		return err
	}
	serial := []byte(job.Intake.Pump.Serial)
	first := "" // of those with the same files
	for n, made := 1, 0; made < count; n++ {
		own, ok := codes.NewNumber(2026, "", n)
		if !ok {
			continue
		}
		made++
		dir := filepath.Join(root, own)
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return err
		}
		form := bytes.Replace(typed, []byte("job: "+number), []byte("job: "+own), 1)
		if made%2 == 0 {
			form = packet.Form(own, job.Plan, nil)
		}
		err := errors.Join(
			os.WriteFile(filepath.Join(dir, packet.IntakeFile), bytes.ReplaceAll(intake, serial, fmt.Appendf(nil, "77-%d", made)), 0o666),
			os.WriteFile(filepath.Join(dir, packet.FormFile), form, 0o666))
		for _, same := range []string{packet.SpecFile, packet.ShopFile, packet.PacketFile} {
			if made%10000 == 1 { // a file has no more than 65,000 names on some file systems
				data, err3 := os.ReadFile(filepath.Join(from, same))
				err = errors.Join(err, err3, os.WriteFile(filepath.Join(dir, same), data, 0o666))
			} else {
				err = errors.Join(err, os.Link(filepath.Join(first, same), filepath.Join(dir, same)))
			}
		}
		if err != nil {
			return err
		}
		if made%10000 == 1 {
			first = dir
		}
	}
	return nil
}

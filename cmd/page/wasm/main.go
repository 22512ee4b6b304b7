//go:build js && wasm

// Command wasm is the program inside the file that cmd/page writes: the page's handler behind one JavaScript function.
package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"syscall/js"
	"time"

	"carryover/internal/page"
)

// request is what the worker asks; Files are the files as they stand in this transaction.
type request struct {
	Post  bool              `json:"post"`
	Path  string            `json:"path"`
	Form  string            `json:"form"`
	Files map[string]string `json:"files"`
}

type response struct {
	Status   int               `json:"status"`
	Type     string            `json:"type"`
	Name     string            `json:"name,omitempty"`
	Location string            `json:"location,omitempty"`
	Text     string            `json:"text"`
	Written  map[string]string `json:"written,omitempty"`
	Removed  []string          `json:"removed,omitempty"`
}

func main() {
	p, err := page.New("#", time.Now)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	js.Global().Set("carryoverAnswer", js.FuncOf(func(_ js.Value, args []js.Value) any {
		out, err := json.Marshal(answer(p, []byte(args[0].String())))
		if err != nil {
			return `{"status":500,"text":""}`
		}
		return string(out)
	}))
	select {}
}

func answer(p *page.Page, asked []byte) response {
	var q request
	if err := json.Unmarshal(asked, &q); err != nil {
		return response{Status: page.StatusBadRequest, Text: err.Error()}
	}
	u, err := url.Parse(q.Path)
	if err != nil {
		return response{Status: page.StatusBadRequest, Text: err.Error()}
	}
	form, _ := url.ParseQuery(q.Form)
	store := &page.Memory{Files: q.Files}
	a := p.Answer(context.Background(), store, page.Request{Post: q.Post, Path: u.Path, Query: u.Query(), Form: form})
	return response{Status: a.Status, Type: a.Type, Name: a.Name, Location: a.Location, Text: string(a.Body), Written: store.Written,
		Removed: store.Removed}
}

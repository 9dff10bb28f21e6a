package raster

import (
	"errors"
	"strconv"
	"strings"
)

// node is one bracketed element of a well-known text, such as
// PARAMETER["false_easting",0].
type node struct {
	key  string // upper case
	args []string
	kids []*node
	text string // the element as written
}

const (
	maxWKT      = 1 << 20
	maxWKTDepth = 32
)

var errWKT = errors.New("not a well-known text of a coordinate reference system")

// parseWKT reads well-known text, version 1 or 2.
func parseWKT(s string) (*node, error) {
	if len(s) > maxWKT {
		return nil, errWKT
	}
	p := &wktParser{s: s}
	n, err := p.element(0)
	if err != nil {
		return nil, err
	}
	p.space()
	if p.i != len(p.s) {
		return nil, errWKT
	}
	return n, nil
}

type wktParser struct {
	s string
	i int
}

func (p *wktParser) space() {
	for p.i < len(p.s) && strings.IndexByte(" \t\r\n", p.s[p.i]) >= 0 {
		p.i++
	}
}

func (p *wktParser) word() string {
	start := p.i
	for p.i < len(p.s) && strings.IndexByte(" \t\r\n,[]()\"", p.s[p.i]) < 0 {
		p.i++
	}
	return p.s[start:p.i]
}

// quoted reads a string in double quotes; a doubled quote stands for one.
func (p *wktParser) quoted() (string, error) {
	p.i++
	var b strings.Builder
	for p.i < len(p.s) {
		c := p.s[p.i]
		p.i++
		if c != '"' {
			b.WriteByte(c)
			continue
		}
		if p.i < len(p.s) && p.s[p.i] == '"' {
			b.WriteByte('"')
			p.i++
			continue
		}
		return b.String(), nil
	}
	return "", errWKT
}

func (p *wktParser) element(depth int) (*node, error) {
	p.space()
	start := p.i
	n := &node{key: strings.ToUpper(p.word())}
	p.space()
	if n.key == "" || depth > maxWKTDepth || p.i >= len(p.s) || (p.s[p.i] != '[' && p.s[p.i] != '(') {
		return nil, errWKT
	}
	for {
		p.i++
		if err := p.argument(n, depth); err != nil {
			return nil, err
		}
		p.space()
		if p.i >= len(p.s) {
			return nil, errWKT
		}
		switch p.s[p.i] {
		case ',':
			continue
		case ']', ')':
			p.i++
			n.text = p.s[start:p.i]
			return n, nil
		}
		return nil, errWKT
	}
}

// argument reads a string, a number, a keyword or a nested element.
func (p *wktParser) argument(n *node, depth int) error {
	p.space()
	if p.i >= len(p.s) {
		return errWKT
	}
	if p.s[p.i] == '"' {
		s, err := p.quoted()
		n.args = append(n.args, s)
		return err
	}
	mark := p.i
	w := p.word()
	p.space()
	if p.i < len(p.s) && (p.s[p.i] == '[' || p.s[p.i] == '(') {
		p.i = mark
		kid, err := p.element(depth + 1)
		if err != nil {
			return err
		}
		n.kids = append(n.kids, kid)
		return nil
	}
	if w == "" {
		return errWKT
	}
	n.args = append(n.args, w)
	return nil
}

// find returns the first element with one of the keys, searching depth first.
func (n *node) find(keys ...string) *node {
	if n == nil {
		return nil
	}
	for _, k := range keys {
		if n.key == k {
			return n
		}
	}
	for _, kid := range n.kids {
		if f := kid.find(keys...); f != nil {
			return f
		}
	}
	return nil
}

// child returns the first direct child with one of the keys.
func (n *node) child(keys ...string) *node {
	if n == nil {
		return nil
	}
	for _, kid := range n.kids {
		for _, k := range keys {
			if kid.key == k {
				return kid
			}
		}
	}
	return nil
}

func (n *node) arg(i int) string {
	if n == nil || i >= len(n.args) {
		return ""
	}
	return n.args[i]
}

func (n *node) number(i int) (float64, bool) {
	v, err := strconv.ParseFloat(n.arg(i), 64)
	return v, err == nil
}

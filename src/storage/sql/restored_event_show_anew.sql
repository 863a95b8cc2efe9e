UPDATE events SET shown = $1 WHERE shown < $1

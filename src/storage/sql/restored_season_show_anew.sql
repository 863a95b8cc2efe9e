UPDATE seasons SET shown = $1 WHERE shown < $1
